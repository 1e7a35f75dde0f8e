"use strict";

// Makes choosing files easier: drop them anywhere on the form, see what was chosen, see how far the sending is.
// Without this script the form is sent as it is.
(() => {
  const form = document.querySelector("form[data-upload]");
  const input = form && form.querySelector("input[type=file]");
  const state = form && form.querySelector("[data-upload-state]");
  if (!input || !state || !window.FormData || !window.DataTransfer) {
    return;
  }
  const megabytes = (bytes) => (bytes < 104858 ? `${Math.ceil(bytes / 1024)} kB` : `${(bytes / 1048576).toFixed(1)} MB`);
  const line = (text) => {
    const paragraph = document.createElement("p");
    paragraph.textContent = text;
    return paragraph;
  };

  const tell = () => {
    const files = Array.from(input.files);
    const total = files.reduce((sum, file) => sum + file.size, 0);
    const names = files.slice(0, 8).map((file) => `${file.name} (${megabytes(file.size)})`);
    const more = files.length > names.length ? `, and ${files.length - names.length} more` : "";
    state.replaceChildren(...(files.length ? [line(`${names.join(", ")}${more}; ${megabytes(total)} in all.`)] : []));
  };
  input.addEventListener("change", tell);

  const over = (isOver) => (event) => {
    event.preventDefault();
    form.classList.toggle("lab-drop--over", isOver);
  };
  form.addEventListener("dragover", over(true));
  form.addEventListener("dragleave", over(false));
  form.addEventListener("drop", (event) => {
    over(false)(event);
    if (event.dataTransfer.files.length) {
      input.files = event.dataTransfer.files;
      tell();
    }
  });

  const problems = (sentences) => {
    const box = document.createElement("div");
    box.className = "form-errors";
    box.setAttribute("role", "alert");
    box.replaceChildren(...sentences.map(line));
    state.replaceChildren(box);
  };

  form.addEventListener("submit", (event) => {
    if (!input.files.length) {
      return;
    }
    event.preventDefault();
    const button = form.querySelector("button");
    const bar = document.createElement("progress");
    const words = line("Sending…");
    bar.max = 1;
    bar.value = 0;
    bar.setAttribute("aria-label", "Sent so far");
    state.replaceChildren(bar, words);
    button.disabled = true;

    const done = (sentences) => {
      button.disabled = false;
      problems(sentences);
    };
    const request = new XMLHttpRequest();
    request.open("POST", form.action);
    request.setRequestHeader("Accept", "application/json");
    request.upload.addEventListener("progress", (sent) => {
      if (sent.lengthComputable) {
        bar.value = sent.loaded / sent.total;
        words.textContent = `${megabytes(sent.loaded)} of ${megabytes(sent.total)} sent.`;
      }
    });
    request.upload.addEventListener("load", () => {
      bar.removeAttribute("value");
      words.textContent = "Sent. Every test is read now; a large ZIP takes a while.";
    });
    request.addEventListener("error", () => done(["The connection broke and nothing was stored. Send it again."]));
    request.addEventListener("load", () => {
      let answer = {};
      try {
        answer = JSON.parse(request.responseText);
      } catch {
        answer = {};
      }
      if (request.status === 201 && answer.next) {
        window.location.assign(answer.next);
      } else if (answer.problems) {
        done(answer.problems);
      } else if (request.status === 413) {
        done(["The files together are larger than 50 MB. Send them in several parts."]);
      } else {
        done([`The files were not taken (answer ${request.status}). Reload the page and try again.`]);
      }
    });
    request.send(new FormData(form));
  });
})();
