/* A scanned code is in the fragment of the address: it goes to the server in a body, and out of the address. */
(() => {
  "use strict";
  const field = document.getElementById("id_code");
  const code = location.hash.slice(1);
  if (!field || !code) return;
  history.replaceState(null, "", location.pathname);
  field.value = code;
  field.form.requestSubmit();
})();
