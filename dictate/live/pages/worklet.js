// Gathers the microphone's samples into pieces of 16 bit numbers.
"use strict";
class Tap extends AudioWorkletProcessor {
  constructor(options) {
    super();
    this.piece = new Int16Array(options.processorOptions.piece);
    this.filled = 0;
  }
  process(inputs) {
    const channel = inputs[0][0];
    if (!channel) return true;
    for (const sample of channel) {
      this.piece[this.filled++] = Math.max(-1, Math.min(1, sample)) * 32767;
      if (this.filled === this.piece.length) {
        this.port.postMessage(this.piece.slice());
        this.filled = 0;
      }
    }
    return true;
  }
}
registerProcessor("tap", Tap);
