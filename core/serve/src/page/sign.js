// Signs what somebody did by a key that was made in this browser and can't leave it. Signatures have the form of PROTOCOL.sshsig of
// OpenSSH; numbers and strings in them that of RFC 4251, section 5.
"use strict";
(() => {
  const main = document.querySelector("main");
  const person = main.dataset.person;
  const at = (id) => document.getElementById(id);
  if (!person) return;

  // --- Bytes -------------------------------------------------------------------------------------------------------

  const utf8 = (text) => new TextEncoder().encode(text);
  const joined = (...parts) => Uint8Array.from(parts.flatMap((part) => [...part]));
  const number = (value) => Uint8Array.of(value >>> 24, value >>> 16, value >>> 8, value);
  const string = (bytes) => joined(number(bytes.length), bytes);
  const base64 = (bytes) => btoa(String.fromCharCode(...bytes));

  // --- The key -----------------------------------------------------------------------------------------------------

  // What a browser keeps for pages of this server alone. The private half is handed out to nobody, this script among them.
  const store = (mode, then) => new Promise((done, fail) => {
    const opening = indexedDB.open("standpipe", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("keys");
    opening.onerror = () => fail(opening.error);
    opening.onsuccess = () => {
      const asked = then(opening.result.transaction("keys", mode).objectStore("keys"));
      asked.onsuccess = () => done(asked.result);
      asked.onerror = () => fail(asked.error);
    };
  });
  const own = () => store("readonly", (keys) => keys.get(person));
  const make = async () => {
    const pair = await crypto.subtle.generateKey("Ed25519", false, ["sign", "verify"]);
    // One that is there stays: signatures by it are out already.
    await store("readwrite", (keys) => keys.add(pair, person));
  };
  const blob = async (pair) =>
    joined(string(utf8("ssh-ed25519")), string(new Uint8Array(await crypto.subtle.exportKey("raw", pair.publicKey))));

  const signed = async (pair, text) => {
    const hash = new Uint8Array(await crypto.subtle.digest("SHA-512", utf8(text)));
    const purpose = [string(utf8(main.dataset.namespace)), string([]), string(utf8("sha512"))];
    const bytes = joined(utf8("SSHSIG"), ...purpose, string(hash));
    const made = new Uint8Array(await crypto.subtle.sign("Ed25519", pair.privateKey, bytes));
    const whole = joined(utf8("SSHSIG"), number(1), string(await blob(pair)), ...purpose,
      string(joined(string(utf8("ssh-ed25519")), string(made))));
    const lines = base64(whole).match(/.{1,70}/g).join("\n");
    return text + "-----BEGIN SSH SIGNATURE-----\n" + lines + "\n-----END SSH SIGNATURE-----\n";
  };

  // --- The page ----------------------------------------------------------------------------------------------------

  const refuse = (words) => {
    const note = document.createElement("div");
    note.className = "refusal";
    note.setAttribute("role", "alert");
    note.textContent = words;
    at("refusal").replaceChildren(note);
  };

  const cannot = (words) => {
    at("cannot").textContent = words;
    at("cannot").hidden = false;
  };

  const show = async () => {
    const pair = await own();
    at("sign").disabled = !pair;
    at("none").hidden = at("make").hidden = Boolean(pair);
    at("has").hidden = !pair;
    at("key").hidden = false;
    if (pair) {
      at("line").textContent =
        person + " namespaces=\"" + main.dataset.namespace + "\" ssh-ed25519 " + base64(await blob(pair));
    }
  };

  // The texts are fetched anew: they say when they are signed.
  const sign = async () => {
    const pair = await own();
    const fresh = new DOMParser().parseFromString(await (await fetch(location.pathname)).text(), "text/html");
    const body = new URLSearchParams();
    for (const it of fresh.querySelectorAll("pre.signed")) body.append("signed", await signed(pair, it.textContent));
    const answer = await fetch(location.pathname, {
      method: "POST", credentials: "same-origin", body: body.toString(),
      headers: { "Content-Type": "application/x-www-form-urlencoded" },
    });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (answer.ok) return location.reload();
    at("refusal").replaceChildren(...document.adoptNode(page.querySelector(".refusal, main")).childNodes);
  };

  const tapped = (deed) => async (event) => {
    event.target.disabled = true;
    try {
      await deed();
      await show();
    } catch (fault) {
      refuse("Not signed: " + (fault.message || fault));
      event.target.disabled = false;
    }
  };

  if (!isSecureContext) {
    cannot("This browser makes keys only where the connection is protected: start the server with --tls.");
    return;
  }
  at("make").addEventListener("click", tapped(make));
  at("sign").addEventListener("click", tapped(sign));
  show().catch(() => cannot("This browser can't keep a key: a newer one, or not in a private window."));
})();
