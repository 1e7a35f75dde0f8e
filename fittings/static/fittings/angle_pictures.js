/* Pictures for measuring angles: a still from the camera, a picture or a frame of a video chosen from the device.
   Nothing of them is sent or stored. Whatever goes wrong is thrown as an Error whose message is shown at the field. */
(() => {
  "use strict";
  const PIXELS_MAX = 50e6;
  // Enough to place a mark to half a degree, and little enough for an old tablet.
  const SIDE_MAX = 1600;
  const WAIT_MS = 10000;
  const HEAD_BYTES = 1 << 20;
  const INSTEAD = "Choose a picture instead, or type the value.";
  const BROKEN = "This picture can’t be opened; it may be damaged. Choose another JPEG or PNG picture, or type the value.";

  /* Width and height from the file's head, so that a picture too large is never unpacked. */
  const pngSize = (data) => (data.byteLength > 24 ? [data.getUint32(16), data.getUint32(20)] : null);
  const jpegSize = (data) => {
    for (let at = 2; at + 9 < data.byteLength && data.getUint8(at) === 0xff;) {
      const marker = data.getUint8(at + 1);
      if (marker === 0xff) { at += 1; continue; }
      const isFrame = marker >= 0xc0 && marker <= 0xcf && ![0xc4, 0xc8, 0xcc].includes(marker);
      if (isFrame) return [data.getUint16(at + 7), data.getUint16(at + 5)];
      at += 2 + data.getUint16(at + 2);
    }
    return null;
  };
  const sizeOf = async (file) => {
    const data = new DataView(await file.slice(0, HEAD_BYTES).arrayBuffer());
    if (data.byteLength < 4) return null;
    if (data.getUint32(0) === 0x89504e47) return pngSize(data);
    return data.getUint16(0) === 0xffd8 ? jpegSize(data) : null;
  };

  /* Draw something with pixels on a canvas, made smaller where it is large. */
  const still = (source, width, height) => {
    const scale = Math.min(1, SIDE_MAX / Math.max(width, height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(width * scale));
    canvas.height = Math.max(1, Math.round(height * scale));
    canvas.getContext("2d").drawImage(source, 0, 0, canvas.width, canvas.height);
    return canvas;
  };
  const fromFile = async (file) => {
    const size = await sizeOf(file);
    if (!size || !size[0] || !size[1]) throw new Error(BROKEN);
    const pixels = size[0] * size[1];
    if (pixels > PIXELS_MAX) {
      throw new Error(`This picture has ${Math.round(pixels / 1e6)} million pixels, and at most ${PIXELS_MAX / 1e6} million can be opened here. Take it at a lower resolution, or choose another one.`);
    }
    let bitmap;
    try { bitmap = await createImageBitmap(file); } catch { throw new Error(BROKEN); }
    const canvas = still(bitmap, bitmap.width, bitmap.height);
    bitmap.close();
    return canvas;
  };

  /* Wait for one event of a video; an error or nothing within ten seconds is a failure with these words. */
  const when = (video, name, words) => new Promise((resolve, reject) => {
    const late = setTimeout(() => done(reject), WAIT_MS);
    const done = (end) => {
      clearTimeout(late);
      video.removeEventListener(name, arrived);
      video.removeEventListener("error", failed);
      end(end === reject ? new Error(words) : undefined);
    };
    const arrived = () => done(resolve);
    const failed = () => done(reject);
    video.addEventListener(name, arrived);
    video.addEventListener("error", failed);
  });
  const openVideo = async (video, file) => {
    const words = "This video has no frame that can be shown. Choose another video or a picture, or type the value.";
    const loaded = when(video, "loadeddata", words);
    video.src = URL.createObjectURL(file);
    await loaded;
    if (!video.videoWidth || !Number.isFinite(video.duration) || video.duration <= 0) throw new Error(words);
  };
  const openCamera = async (video) => {
    if (!navigator.mediaDevices || !navigator.mediaDevices.getUserMedia) throw new Error("No camera can be used here. " + INSTEAD);
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ audio: false, video: { facingMode: "environment", width: { ideal: 1920 } } });
    } catch (problem) {
      const said = { NotAllowedError: "The camera was refused. ", NotFoundError: "This device has no camera. " };
      throw new Error((said[problem.name] || "The camera can’t be started. ") + INSTEAD);
    }
    const shown = when(video, "loadeddata", "The camera shows nothing. " + INSTEAD);
    video.srcObject = stream;
    try { await video.play(); await shown; } catch (problem) { closeVideo(video); throw problem; }
  };
  const frame = (video) => {
    if (!video.videoWidth) throw new Error("There is no frame to take yet. Wait a moment and try again.");
    return still(video, video.videoWidth, video.videoHeight);
  };
  /* Stop the camera, and give back the memory of a video. */
  const closeVideo = (video) => {
    if (video.srcObject) for (const track of video.srcObject.getTracks()) track.stop();
    video.srcObject = null;
    if (video.src) { URL.revokeObjectURL(video.src); video.removeAttribute("src"); video.load(); }
  };

  window.anglePictures = { fromFile, openVideo, openCamera, frame, closeVideo };
})();
