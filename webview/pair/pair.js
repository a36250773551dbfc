// Exchanges the code in the address for a cookie. The code stands behind the #,
// so that no request carries it, and is taken out of the address and the
// history at once.
"use strict";
const secret = location.hash.slice(1);
history.replaceState(null, "", location.pathname);
const answer = document.getElementById("answer");
const form = document.getElementById("form");
const name = document.getElementById("name");

if (secret !== "") {
  answer.textContent = "One step left.";
  form.hidden = false;
  name.select();
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  document.getElementById("pair").disabled = true;
  try {
    const reply = await fetch("/api/pair", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ secret, name: name.value }),
    });
    const said = await reply.json();
    if (reply.ok) {
      location.replace("/");
      return;
    }
    answer.textContent = said.error.words;
    form.hidden = reply.status !== 422; // another name may do; a spent code will not
  } catch {
    answer.textContent = "ringwell does not answer. Is this device in the same network as the computer that runs it?";
  }
  document.getElementById("pair").disabled = false;
});
