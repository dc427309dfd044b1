// Speaking to it: a button that is held, or hands-free.

const LONGEST_MS = 60000;
const SHORTEST_MS = 350;
const KEPT_OPEN_MS = 60000;
const KINDS = ["audio/webm;codecs=opus", "audio/ogg;codecs=opus", "audio/mp4"];

/** Why there is no microphone, in a sentence. */
function whyNot(error) {
  if (!navigator.mediaDevices) return "Browsers give the microphone to trusted pages only: see the console's line on trust.";
  if (error?.name === "NotAllowedError") return "The microphone isn't allowed here: allow it in the browser's settings.";
  if (error?.name === "NotFoundError") return "No microphone was found.";
  return "The microphone can't be used just now.";
}

async function microphone() {
  if (!navigator.mediaDevices) throw new Error("no secure page");
  return navigator.mediaDevices.getUserMedia({ audio: { channelCount: 1, echoCancellation: true, autoGainControl: true } });
}

/** Recording while a button is held. */
export class Holding {
  constructor(button, done, say) {
    this.button = button;
    this.done = done; // is given the recording in base64
    this.say = say;
    this.recorder = null;
    this.stream = null;
    this.down = false;
    button.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      button.focus();
      button.setPointerCapture?.(event.pointerId);
      this.start();
    });
    for (const name of ["pointerup", "pointercancel", "lostpointercapture"]) button.addEventListener(name, () => this.stop());
    button.addEventListener("contextmenu", (event) => event.preventDefault());
    button.addEventListener("keydown", (event) => {
      if (event.key !== " " && event.key !== "Enter") return;
      event.preventDefault();
      if (!event.repeat) this.start();
    });
    button.addEventListener("keyup", (event) => {
      if (event.key === " " || event.key === "Enter") this.stop();
    });
    button.addEventListener("click", (event) => {
      // a screen reader's press has neither pointer nor key: it begins, the next one ends
      if (event.detail === 0 && !event.pointerType) this.down ? this.stop() : this.start();
    });
    button.addEventListener("blur", () => this.stop());
  }

  async start() {
    if (this.down) return;
    this.down = true;
    try {
      clearTimeout(this.closing);
      if (!this.stream?.active) this.stream = await microphone();
    } catch (error) {
      this.down = false;
      this.say(whyNot(error));
      return;
    }
    if (!this.down) return this.letGo(); // released while the browser asked
    const kind = KINDS.find((one) => MediaRecorder.isTypeSupported(one));
    const parts = [];
    const began = performance.now();
    this.recorder = new MediaRecorder(this.stream, { mimeType: kind, audioBitsPerSecond: 32000 });
    this.recorder.ondataavailable = ({ data }) => parts.push(data);
    this.recorder.onstop = async () => {
      this.mark(false);
      this.letGo();
      if (performance.now() - began < SHORTEST_MS) this.say("Hold the button while you speak.");
      else this.done(await base64(new Blob(parts)));
    };
    this.recorder.start();
    this.mark(true);
    this.ending = setTimeout(() => this.stop(), LONGEST_MS);
  }

  stop() {
    if (!this.down) return;
    this.down = false;
    clearTimeout(this.ending);
    if (this.recorder?.state === "recording") setTimeout(() => this.recorder.state === "recording" && this.recorder.stop(), 150);
  }

  mark(on) {
    this.button.classList.toggle("live", on);
    this.button.textContent = on ? "Listening: let go to send" : "Hold to talk";
    this.say(on ? "Listening" : "");
  }

  /** The microphone stays open for a while: the next press loses no word. */
  letGo() {
    clearTimeout(this.closing);
    this.closing = setTimeout(() => {
      this.stream?.getTracks().forEach((track) => track.stop());
      this.stream = null;
    }, KEPT_OPEN_MS);
  }
}

async function base64(blob) {
  const bytes = new Uint8Array(await blob.arrayBuffer());
  let text = "";
  for (let start = 0; start < bytes.length; start += 8192) text += String.fromCharCode(...bytes.subarray(start, start + 8192));
  return btoa(text);
}

/** Listening all the time. */
export class HandsFree {
  constructor(send, say) {
    this.send = send;
    this.say = say;
    this.on = false;
  }

  async begin() {
    try {
      this.stream = await microphone();
      this.context = new AudioContext();
      await this.context.audioWorklet.addModule("/microphone.js");
      this.node = new AudioWorkletNode(this.context, "microphone", { numberOfOutputs: 0 });
      this.node.port.onmessage = ({ data }) => this.send(data);
      this.context.createMediaStreamSource(this.stream).connect(this.node);
      this.on = true;
    } catch (error) {
      this.end();
      this.say(whyNot(error));
    }
    return this.on;
  }

  end() {
    this.on = false;
    this.stream?.getTracks().forEach((track) => track.stop());
    this.context?.close();
    this.stream = this.context = null;
  }
}
