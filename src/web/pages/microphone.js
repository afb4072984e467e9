// Runs beside the sound: 16-bit frames of 20 ms, each with its number.
class Frames extends AudioWorkletProcessor {
  constructor() {
    super();
    this.size = Math.round(sampleRate / 50);
    this.number = 0;
    this.begin();
  }
  begin() {
    this.frame = new DataView(new ArrayBuffer(4 + 2 * this.size));
    this.filled = 0;
  }
  process([[samples]]) {
    for (const sample of samples || []) {
      const value = Math.max(-1, Math.min(1, sample));
      this.frame.setInt16(4 + 2 * this.filled, Math.round(value * 32767), true);
      this.filled += 1;
      if (this.filled === this.size) {
        this.frame.setUint32(0, this.number, true);
        this.number = (this.number + 1) >>> 0;
        this.port.postMessage(this.frame.buffer, [this.frame.buffer]);
        this.begin();
      }
    }
    return true;
  }
}
registerProcessor("frames", Frames);
