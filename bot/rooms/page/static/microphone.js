// In the audio thread: the microphone's sound as 16 kHz, 16-bit samples, a block at a time.

const RATE = 16000;
const BLOCK = 2048;

class Microphone extends AudioWorkletProcessor {
  constructor() {
    super();
    this.step = sampleRate / RATE;
    this.place = 0;
    this.sum = 0;
    this.count = 0;
    this.block = new Int16Array(BLOCK);
    this.filled = 0;
  }

  process([[channel]]) {
    for (const sample of channel ?? []) {
      this.sum += sample;
      this.count += 1;
      this.place += 1;
      if (this.place < this.step) continue;
      this.place -= this.step;
      const mean = Math.max(-1, Math.min(1, this.sum / this.count));
      this.block[this.filled++] = mean * 32767;
      this.sum = 0;
      this.count = 0;
      if (this.filled === BLOCK) {
        this.port.postMessage(this.block.buffer, [this.block.buffer]);
        this.block = new Int16Array(BLOCK);
        this.filled = 0;
      }
    }
    return true;
  }
}

registerProcessor("microphone", Microphone);
