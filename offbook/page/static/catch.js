// The microphone's samples, gathered into pieces of one size, on the sound thread of the browser.

const LOWEST = -32768, HIGHEST = 32767; // values of a 16-bit sample

class Catch extends AudioWorkletProcessor {
  constructor(options) {
    super();
    this.size = options.processorOptions.size;
    this.piece = new Int16Array(this.size);
    this.filled = 0;
    this.on = true;
    this.port.onmessage = () => {
      this.on = false;
      this.port.postMessage({ piece: this.piece.slice(0, this.filled), last: true });
    };
  }

  process(inputs) {
    const channels = inputs[0];
    if (!this.on) return false;
    if (!channels.length) return true;
    for (let k = 0; k < channels[0].length; k += 1) {
      let sample = 0;
      for (const channel of channels) sample += channel[k];
      sample /= channels.length;
      this.piece[this.filled] = Math.max(LOWEST, Math.min(HIGHEST, Math.round(sample * HIGHEST)));
      this.filled += 1;
      if (this.filled === this.size) {
        this.port.postMessage({ piece: this.piece, last: false });
        this.piece = new Int16Array(this.size);
        this.filled = 0;
      }
    }
    return true;
  }
}

registerProcessor("catch", Catch);
