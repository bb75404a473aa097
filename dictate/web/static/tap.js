// Hands on the microphone's samples as 16 bit numbers, a tenth of a second at a time.
"use strict";

class Tap extends AudioWorkletProcessor {
  constructor() {
    super();
    this.part = new Int16Array(Math.round(sampleRate / 10));
    this.filled = 0;
  }

  process([[channel]]) {
    for (const sample of channel || []) {
      this.part[this.filled++] = Math.max(-1, Math.min(1, sample)) * 32767;
      if (this.filled === this.part.length) {
        this.port.postMessage(this.part.slice());
        this.filled = 0;
      }
    }
    return true;
  }
}
registerProcessor("reviewer-tap", Tap);
