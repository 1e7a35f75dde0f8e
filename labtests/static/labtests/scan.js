"use strict";

// Reads a specimen's label with the camera where the browser can. Without it the code is typed.
(() => {
  const form = document.querySelector("form[data-scan]");
  if (!form || !("BarcodeDetector" in window) || !navigator.mediaDevices) {
    return;
  }
  const start = form.querySelector("[data-scan-start]");
  const state = form.querySelector("[data-scan-state]");
  const picture = form.querySelector("[data-scan-picture]");
  const input = form.querySelector("input[name=label]");
  let stream = null;

  const stop = (words) => {
    stream?.getTracks().forEach((track) => track.stop());
    stream = null;
    picture.hidden = true;
    start.textContent = "Scan with the camera";
    state.textContent = words;
  };

  const look = async (detector) => {
    if (!stream) {
      return;
    }
    const found = await detector.detect(picture).catch(() => []);
    if (found.length) {
      input.value = found[0].rawValue;
      stop(`Read ${input.value}`);
      form.requestSubmit();
      return;
    }
    window.setTimeout(() => look(detector), 150);
  };

  const begin = async () => {
    try {
      const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      picture.srcObject = stream;
      picture.hidden = false;
      await picture.play();
      start.textContent = "Stop the camera";
      state.textContent = "Hold the label in front of the camera.";
      look(detector);
    } catch {
      stop("The camera can’t be used. Type the code instead.");
    }
  };

  start.hidden = false;
  start.addEventListener("click", () => (stream ? stop("") : begin()));
})();
