// Words said at the review: the first press of the button listens, the second sends what was heard, as a WAV file in the
// button's own form. What comes back are words in a field, to be read before they are entered.
"use strict";

const LONGEST = 60; // seconds
const tap = document.currentScript.dataset.tap;
let listening = null;

async function listen(form) {
  const button = form.querySelector("button");
  button.disabled = true;
  try {
    const wanted = { channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: true };
    const stream = await navigator.mediaDevices.getUserMedia({ audio: wanted });
    const context = new AudioContext();
    await context.audioWorklet.addModule(tap);
    const node = new AudioWorkletNode(context, "reviewer-tap");
    const now = { form, stream, context, parts: [], late: setTimeout(send, LONGEST * 1000) };
    node.port.onmessage = (message) => now.parts.push(message.data);
    context.createMediaStreamSource(stream).connect(node);
    listening = now;
    button.setAttribute("aria-pressed", "true");
    form.querySelector("[data-label]").textContent = "Listening; press again to read it";
    say("Listening.");
  } catch (error) {
    say(`The microphone cannot be used (${error.name}).`);
    form.querySelector("[data-label]").textContent = "The microphone cannot be used";
  }
  button.disabled = false;
  button.focus();
}

function stopListening() {
  const done = listening;
  listening = null;
  clearTimeout(done.late);
  for (const track of done.stream.getTracks()) track.stop();
  done.context.close();
  return done;
}

function send() {
  const { form, parts, context } = stopListening();
  const sound = new File([wav(parts, context.sampleRate)], "said.wav", { type: "audio/wav" });
  const files = new DataTransfer();
  files.items.add(sound);
  form.querySelector("input[type=file]").files = files.files;
  form.querySelector("[data-label]").textContent = "Reading it";
  say("Reading it.");
  form.requestSubmit();
}

// 16 bit samples with the 44 bytes that a WAV file begins with (RIFF, little-endian).
function wav(parts, rate) {
  const bytes = parts.reduce((sum, part) => sum + part.byteLength, 0);
  const head = new DataView(new ArrayBuffer(44));
  const text = (at, letters) => [...letters].forEach((letter, i) => head.setUint8(at + i, letter.charCodeAt(0)));
  text(0, "RIFF");
  head.setUint32(4, 36 + bytes, true);
  text(8, "WAVEfmt ");
  head.setUint32(16, 16, true);
  head.setUint16(20, 1, true);
  head.setUint16(22, 1, true);
  head.setUint32(24, rate, true);
  head.setUint32(28, rate * 2, true);
  head.setUint16(32, 2, true);
  head.setUint16(34, 16, true);
  text(36, "data");
  head.setUint32(40, bytes, true);
  return new Blob([head, ...parts]);
}

if (navigator.mediaDevices && window.AudioWorkletNode) {
  for (const form of document.querySelectorAll("[data-speak]")) {
    form.hidden = false;
    form.querySelector("button").addEventListener("click", () => (listening ? send() : listen(form)));
  }
  window.addEventListener("pagehide", () => listening && stopListening());
}
