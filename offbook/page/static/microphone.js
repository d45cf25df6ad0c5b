// The microphone: opened with words for what goes wrong, its samples in pieces of one size.

import { Trouble } from "./send.js";

// piece(samples, last): each piece, an Int16Array; gone(): the microphone was unplugged.
export async function openMicrophone({ module, seconds, device, partner, piece, gone }) {
  if (!navigator.mediaDevices?.getUserMedia) {
    throw new Trouble("this browser gives no microphone to a page", "use another browser, or give a recording");
  }
  // Nothing is done to the voice; only where the partner speaks from a loudspeaker is that taken out.
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
      NotReadableError: new Trouble("another program holds the microphone", "close it, and try again"),
      OverconstrainedError: new Trouble("that microphone is gone", "choose another one"),
    }[error.name] ?? new Trouble(`the microphone does not open (${error.name})`, "choose another one");
  }
  const context = new AudioContext();
  await context.resume();
  await context.audioWorklet.addModule(module);
  const size = Math.round(seconds * context.sampleRate);
  const node = new AudioWorkletNode(context, "catch", { numberOfOutputs: 0, processorOptions: { size } });
  node.port.onmessage = ({ data }) => piece(data.piece, data.last);
  context.createMediaStreamSource(stream).connect(node);
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
