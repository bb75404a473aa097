// Sends the microphone's sound in numbered pieces; each is sent again until the program has confirmed it.
"use strict";
const PIECE = 0.25; // seconds of sound in a piece
const MOST = 1200; // pieces kept while the connection is gone: five minutes
const find = (selector) => document.querySelector(selector);
let waiting = [], next = 0, page = fresh(), rate = 0, sending = false, gone = false;

function fresh() { return Math.random().toString(36).slice(2) + Date.now().toString(36); }
function told(words) { if (find("#told").textContent !== words) find("#told").textContent = words; }

async function start() {
  find("#start").disabled = true;
  try {
    const wanted = { audio: { channelCount: 1, echoCancellation: false, noiseSuppression: false, autoGainControl: true } };
    const stream = await navigator.mediaDevices.getUserMedia(wanted);
    const context = new AudioContext();
    await context.audioWorklet.addModule("/own/worklet.js");
    rate = Math.round(context.sampleRate);
    const tap = new AudioWorkletNode(context, "tap", { processorOptions: { piece: Math.round(rate * PIECE) } });
    tap.port.onmessage = (message) => piece(message.data);
    context.createMediaStreamSource(stream).connect(tap);
    if (navigator.wakeLock) navigator.wakeLock.request("screen").catch(() => {});
    stream.getAudioTracks()[0].onended = () => { told("The microphone was taken away. Start it again."); find("#start").disabled = false; };
    told("Sending.");
  } catch (error) {
    find("#start").disabled = false;
    told(navigator.mediaDevices ? `The microphone cannot be used (${error.name}).` : "The browser gives its microphone to HTTPS pages only.");
  }
}

function piece(samples) {
  let peak = 0;
  for (const s of samples) peak = Math.max(peak, Math.abs(s) / 32768);
  find("#level").value = peak;
  waiting.push({ number: next++, samples });
  if (waiting.length > MOST) renumber(waiting.slice(-MOST));
  send();
}

function renumber(kept) {
  page = fresh();
  waiting = kept.map((w, i) => ({ number: i, samples: w.samples }));
  next = waiting.length;
}

async function send() {
  if (sending) return;
  sending = true;
  while (waiting.length) {
    const first = waiting[0];
    try {
      const address = `/sound?from=${page}&number=${first.number}&rate=${rate}`;
      const answer = await fetch(address, { method: "POST", body: first.samples.buffer, signal: AbortSignal.timeout(5000) });
      if (!answer.ok) throw new Error(String(answer.status));
      const taken = Number(await answer.text());
      if (taken < first.number - 1) renumber(waiting); // the program was started anew and counts from the beginning
      else waiting = waiting.filter((w) => w.number > taken);
      if (gone) { gone = false; }
      told("Sending.");
    } catch {
      gone = true;
      told(`No connection. ${(waiting.length * PIECE).toFixed(0)} s of sound wait here; keep this page open.`);
      await new Promise((done) => setTimeout(done, 500));
    }
  }
  sending = false;
}
find("#start").addEventListener("click", start);
