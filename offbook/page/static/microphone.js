// The microphone: opens it, says in words what goes wrong, and gives its samples in pieces of one size.

import { Trouble } from "./send.js";

const STARTS = 4000; // ms in which the browser's sound starts if it starts at all; set by hand, a second try often helps

// Rejects with a Trouble where `work` takes longer than it should.
const within = (ms, work) => {
  let timer;
  const late = new Promise((_, no) => {
    timer = setTimeout(() => no(new Trouble("the browser does not start its sound",
      "see that no other program is using the microphone, and press the button again")), ms);
  });
  return Promise.race([work, late]).finally(() => clearTimeout(timer));
};

// The sound of a stream in pieces: {context, node}.
async function catching(stream, module, seconds) {
  const context = new AudioContext();
  try {
    await within(STARTS, context.resume());
    await within(STARTS, context.audioWorklet.addModule(module));
    const size = Math.round(seconds * context.sampleRate);
    const node = new AudioWorkletNode(context, "catch", { numberOfOutputs: 0, processorOptions: { size } });
    context.createMediaStreamSource(stream).connect(node);
    return { context, node };
  } catch (error) {
    context.close().catch(() => {});
    throw error;
  }
}

// piece(samples, last): each piece, an Int16Array; gone(): the microphone was unplugged.
export async function openMicrophone({ module, seconds, device, partner, piece, gone }) {
  if (!navigator.mediaDevices?.getUserMedia) {
    throw new Trouble("this browser gives no microphone to a page", "use another browser, or give a recording");
  }
  // The voice is left as it is; only the partner's, from the loudspeaker, is taken out.
  const wanted = { echoCancellation: partner, noiseSuppression: false, autoGainControl: true, channelCount: 1 };
  if (device) wanted.deviceId = { exact: device };
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ audio: wanted });
  } catch (error) {
    throw {
      NotAllowedError: new Trouble("the browser does not let this page use the microphone",
        "allow it beside the address of the page and try again, or give a recording"),
      NotFoundError: new Trouble("there is no microphone", "plug one in, or give a recording"),
      NotReadableError: new Trouble("another program is using the microphone", "close it, and try again"),
      OverconstrainedError: new Trouble("that microphone is gone", "choose another one"),
    }[error.name] ?? new Trouble(`the microphone does not open (${error.name})`, "choose another one");
  }
  let opened;
  try {
    opened = await catching(stream, module, seconds).catch(() => catching(stream, module, seconds));
  } catch (error) {
    for (const track of stream.getTracks()) track.stop();
    throw error;
  }
  const { context, node } = opened;
  node.port.onmessage = ({ data }) => piece(data.piece, data.last);
  stream.getAudioTracks()[0].addEventListener("ended", gone);
  return {
    rate: context.sampleRate,
    flush: () => node.port.postMessage("flush"), // the rest comes as a last piece
    close: () => {
      for (const track of stream.getTracks()) track.stop();
      context.close();
    },
  };
}
