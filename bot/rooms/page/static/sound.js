// Sound and touch for what is told: a tone of our own for each kind, vibration, answers spoken, the screen kept awake.

let context = null;
let playing = null;
const ended = [];

/** Browsers let a page sound only after a touch. */
export function unlock() {
  context ??= new AudioContext();
  if (context.state === "suspended") context.resume();
}

export const audible = () => context !== null && context.state === "running";

function tone(hertz, from, length, volume) {
  const source = context.createOscillator();
  const gain = context.createGain();
  source.frequency.value = hertz;
  source.type = "triangle";
  const start = context.currentTime + from;
  gain.gain.setValueAtTime(0, start);
  gain.gain.linearRampToValueAtTime(volume, start + 0.02);
  gain.gain.setValueAtTime(volume, start + length - 0.03);
  gain.gain.linearRampToValueAtTime(0, start + length);
  source.connect(gain).connect(context.destination);
  source.start(start);
  source.stop(start + length);
}

/** How many sounds were made of each kind: for tests, as nobody hears a test. */
export const made = { reminder: 0, alert: 0, loud: 0, spoken: 0 };

/** A sound for what is told: "reminder", "alert", or "loud" for a Mayday and an evacuation. */
export function sound(kind) {
  made[kind] += 1;
  if (navigator.vibrate) {
    const shakes = { reminder: [120], alert: [300, 120, 300], loud: Array(12).fill([500, 120]).flat() };
    navigator.vibrate(shakes[kind]);
  }
  if (!audible()) return;
  if (kind === "reminder") tone(660, 0, 0.18, 0.25);
  if (kind === "alert") for (let n = 0; n < 3; n++) tone(880, n * 0.35, 0.25, 0.7);
  if (kind === "loud") {
    for (let n = 0; n < 16; n++) {
      tone(1250, n * 0.45, 0.2, 1);
      tone(720, n * 0.45 + 0.22, 0.2, 1);
    }
  }
}

/** Is told when speaking begins (true) and ends (false). */
export function whileSpeaking(tell) {
  ended.push(tell);
}

/** Say a message aloud, after what is being said. */
export async function speak(number) {
  made.spoken += 1;
  unlock();
  const before = playing;
  const mine = (async () => {
    await before;
    let answer;
    try {
      answer = await fetch(`/spoken/${number}`);
      if (!answer.ok) return;
      const data = await context.decodeAudioData(await answer.arrayBuffer());
      if (!audible() || silenced.has(number)) return;
      await play(data);
    } catch {
      // not spoken; it stands on the screen
    }
  })();
  playing = mine;
  await mine;
}

const silenced = new Set();

/** A message isn't spoken any more. */
export const silence = (number) => silenced.add(number);

function play(data) {
  return new Promise((done) => {
    const source = context.createBufferSource();
    source.buffer = data;
    source.connect(context.destination);
    ended.forEach((tell) => tell(true));
    source.onended = () => {
      setTimeout(() => ended.forEach((tell) => tell(false)), 250); // the room still rings
      done();
    };
    source.start();
  });
}

let lock = null;

/** Keep the screen on while it is looked at; says how that stands. */
export async function stayAwake() {
  if (!navigator.wakeLock) return "This browser can't keep the screen on: set it so on the device.";
  if (document.visibilityState !== "visible") return "";
  try {
    if (lock === null || lock.released) lock = await navigator.wakeLock.request("screen");
    return "The screen is kept on.";
  } catch {
    return "The device doesn't let the screen be kept on (low battery?).";
  }
}
