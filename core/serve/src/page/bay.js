// What makes a page live. Everything essential works without it: forms are plain forms.
"use strict";
(() => {
  const body = document.body;
  const main = () => document.querySelector("main");
  const link = () => document.getElementById("link");
  const parser = new DOMParser();
  const LOST_AFTER = 5000;
  let heard = Date.now();
  let stream = null;
  let opened = 0;
  let sending = false;
  let behind = false;
  let swapped = 0;
  let lock = null;
  let draining = false;
  const QUEUE = "standpipe " + location.pathname;

  // --- What a page shows -------------------------------------------------------------------------------------------

  // Somebody is in the middle of something: the page must not change under their hand.
  const busy = () =>
    sending || draining || main().querySelector("details[open] form, .refusal") !== null ||
    [...main().querySelectorAll("input[type=text], textarea, input[type=file]")].some((it) => it.value !== it.defaultValue) ||
    [...main().querySelectorAll("input[type=radio]")].some((it) => it.checked !== it.defaultChecked);

  const show = (text, url) => {
    const page = parser.parseFromString(text, "text/html");
    const fresh = page.querySelector("main");
    if (!fresh || page.body.dataset.live !== body.dataset.live) {
      location.assign(url || location.href);
      return;
    }
    const top = page.querySelector(".top");
    if (top) document.querySelector(".top").replaceWith(document.adoptNode(top));
    main().replaceWith(document.adoptNode(fresh));
    document.title = page.title;
    swapped = Date.now();
    behind = false;
    dress();
  };

  const fetched = async () => {
    const answer = await fetch(location.pathname, { credentials: "same-origin" });
    if (answer.status === 401) {
      location.reload();
      return;
    }
    const text = await answer.text();
    // Somebody may have begun something meanwhile, or what waited here was sent.
    if (busy()) behind = true;
    else show(text);
  };

  const look = async (version) => {
    if (String(version) === main().dataset.version) return;
    if (busy()) {
      behind = true;
      say();
      return;
    }
    try {
      await fetched();
    } catch {
      // The next beat tries again.
      behind = true;
    }
  };

  // --- The link ----------------------------------------------------------------------------------------------------

  const lost = () => Date.now() - heard > LOST_AFTER;
  const clock = (at) => new Date(at).toTimeString().slice(0, 8);

  const say = () => {
    const place = link();
    if (!place) return;
    place.dataset.said = place.dataset.said || place.textContent;
    let words = place.dataset.said;
    if (lost()) words = "Not current since " + clock(heard);
    else if (sending) words = "sending";
    else if (behind) words = "The job has moved on";
    if (place.textContent !== words) place.textContent = words;
    body.classList.toggle("lost", lost());
    if (lost()) forget("no connection since " + clock(heard));
    for (const bar of main().querySelectorAll("form button.bar")) {
      const form = bar.closest("form");
      if (!("held" in bar.dataset)) bar.disabled = bar.dataset.wait === "yes" || (lost() && !("plain" in form.dataset));
    }
  };

  const listen = () => {
    if (!body.dataset.live || stream || document.hidden) return;
    stream = new EventSource(body.dataset.live);
    opened = Date.now();
    const beat = () => {
      heard = Date.now();
      say();
      if (behind && !busy()) look("?");
      send();
    };
    stream.addEventListener("pulse", beat);
    stream.addEventListener("reading", (event) => {
      beat();
      reading(JSON.parse(event.data));
    });
    stream.addEventListener("step", (event) => {
      beat();
      look(event.data);
    });
  };
  const hush = () => {
    if (stream) stream.close();
    stream = null;
  };
  // A connection can be dead without a word, as where a phone changed its network, and a refused one is not tried again by
  // the browser.
  const anew = () => {
    if (!lost() || Date.now() - opened < LOST_AFTER) return;
    hush();
    listen();
  };
  // Six streams starve a browser: a page that nobody sees listens to nothing. What it showed last would be an old reading at the
  // first look, before any script runs: it is gone already.
  const asleep = () => {
    hush();
    forget("it is asked for when the page is looked at");
  };
  const back = () => {
    say();
    listen();
    look("?");
    awake();
  };
  document.addEventListener("visibilitychange", () => document.hidden ? asleep() : back());
  document.addEventListener("freeze", asleep);
  document.addEventListener("resume", () => document.hidden || back());
  addEventListener("pageshow", (event) => {
    if (event.persisted) location.reload();
  });
  addEventListener("pagehide", hush);

  // --- The reader --------------------------------------------------------------------------------------------------

  const reader = () => document.getElementById("reader");
  const RUNG = "standpipe rung " + location.pathname;
  // The last bell that this window knows of outlives a reload: what rang meanwhile is heard then.
  let rung = JSON.parse(sessionStorage.getItem(RUNG) || "null");

  // A server that was started anew counts anew.
  const ring = (since, bells) => {
    if (rung && bells > (rung.since === since ? rung.bells : 0)) alarm();
    rung = { since, bells };
    sessionStorage.setItem(RUNG, JSON.stringify(rung));
  };

  const reading = (it) => {
    const place = reader();
    if (!place) return;
    // Made by the server, which escapes whatever was entered.
    place.innerHTML = it.html;
    place.classList.remove("gone");
    place.classList.toggle("alarm", it.alarm === true);
    takes(it.take);
    if (it.bells !== null) ring(it.since, it.bells);
  };

  // The bar that takes a reading says which.
  const takes = (take) => {
    const bar = main().querySelector("[data-takes]");
    if (!bar) return;
    const says = take ? take.says : "";
    if (bar.textContent !== says) bar.textContent = says;
    bar.hidden = !take;
    bar.dataset.wait = take && take.can ? "no" : "yes";
    say();
  };

  // What is not current is not shown at all.
  const forget = (why) => {
    const place = reader();
    if (!place || place.classList.contains("gone")) return;
    place.classList.add("gone");
    place.classList.remove("alarm");
    place.textContent = "The reader is not shown: " + why + ".";
    takes(null);
  };

  // --- Sending -----------------------------------------------------------------------------------------------------

  const queue = () => JSON.parse(localStorage.getItem(QUEUE) || "[]");
  const store = (list) => {
    if (list.length) localStorage.setItem(QUEUE, JSON.stringify(list));
    else localStorage.removeItem(QUEUE);
  };

  const unsent = () => {
    const waiting = queue();
    const old = document.querySelector(".unsent");
    if (old) old.remove();
    if (!waiting.length) return;
    const note = document.createElement("div");
    note.className = "unsent";
    note.setAttribute("role", "status");
    note.textContent = "Not kept yet: " + waiting.map((it) => it.says + " (" + clock(it.at) + ")").join(", ") +
      ". It goes when the connection is back.";
    main().prepend(note);
  };

  const posted = (path, text) =>
    fetch(path, {
      method: "POST", credentials: "same-origin", body: text,
      headers: { "Content-Type": "application/x-www-form-urlencoded" },
    });

  // What waited on the device, in order. One that is not taken ends the row: what follows was made on it.
  const send = async () => {
    if (draining || !queue().length) return;
    draining = true;
    try {
      for (let list = queue(); list.length; list = queue()) {
        const first = list[0];
        const age = Math.round((Date.now() - first.at) / 1000);
        const answer = await posted(first.path, first.text + "&age=" + age);
        if (answer.status === 503) break;
        store(list.slice(1));
        show(await answer.text(), answer.url);
        if (!answer.ok) break;
      }
    } catch {
      // Still no connection.
    }
    draining = false;
    unsent();
  };

  const submit = async (event) => {
    const form = event.target;
    if (form.enctype === "multipart/form-data" || form.method !== "post" || !body.dataset.live) return;
    event.preventDefault();
    // A page that has just changed under the finger was not what was meant.
    if (sending || Date.now() - swapped < 300) return;
    const fields = new FormData(form, event.submitter);
    const text = new URLSearchParams(fields).toString();
    const path = new URL(form.action).pathname;
    const bar = event.submitter;
    if ("plain" in form.dataset && lost()) {
      const says = document.querySelector("h1").textContent;
      if (!queue().length) store([{ path, text, at: Date.now(), says }]);
      unsent();
      for (const it of form.querySelectorAll("button")) it.dataset.wait = "yes";
      say();
      return;
    }
    sending = true;
    if (bar) bar.dataset.was = bar.textContent;
    say();
    try {
      const answer = await posted(path, text);
      const page = await answer.text();
      heard = Date.now();
      sending = false;
      show(page, answer.url);
      if (!main().querySelector("[aria-invalid=true]")) scrollTo({ top: 0 });
    } catch {
      sending = false;
      // Whether it came nobody knows. The same id is sent again, so that it counts once.
      if ("plain" in form.dataset) {
        store([{ path, text, at: Date.now(), says: document.querySelector("h1").textContent }]);
        for (const it of form.querySelectorAll("button")) it.dataset.wait = "yes";
        unsent();
      } else {
        refuse("There was no connection. Nobody knows whether it came: tap again, it counts once.");
      }
      say();
    }
  };

  const refuse = (words) => {
    const note = document.createElement("div");
    note.className = "unsent";
    note.setAttribute("role", "alert");
    note.textContent = words;
    main().prepend(note);
  };
  document.addEventListener("submit", submit);

  // --- What a step needs -------------------------------------------------------------------------------------------

  // Sound and shaking are allowed once somebody has touched the page.
  let sound = null;
  addEventListener("pointerdown", () => {
    try {
      sound = sound || new AudioContext();
      sound.resume();
    } catch {
      // No sound here.
    }
  }, { once: true });

  const alarm = () => {
    if (navigator.vibrate) navigator.vibrate([300, 100, 300]);
    try {
      sound = sound || new AudioContext();
      if (sound.state === "suspended") sound.resume();
      const tone = sound.createOscillator();
      tone.frequency.value = 880;
      tone.connect(sound.destination);
      tone.start();
      tone.stop(sound.currentTime + 0.6);
    } catch {
      // No sound here.
    }
  };

  const lasting = (seconds) => seconds < 60 ? seconds + " s"
    : Math.floor(seconds / 60) + " min " + String(seconds % 60).padStart(2, "0") + " s";

  // Counts down what is to be held; it tells when it is over, and answers nothing by itself.
  const hold = () => {
    const place = main().querySelector(".clock");
    if (!place) return;
    const whole = Number(place.dataset.hold);
    const begun = Date.now() - Number(place.dataset.ran) * 1000;
    const bar = main().querySelector("[data-when-held]");
    bar.dataset.held = "";
    bar.disabled = true;
    const tick = () => {
      if (!place.isConnected) return;
      const left = whole - (Date.now() - begun) / 1000;
      place.textContent = left > 0 ? lasting(Math.ceil(left)) + " to go" : "The time is over";
      if (left > 0) {
        setTimeout(tick, 100);
        return;
      }
      bar.disabled = false;
      delete bar.dataset.held;
      alarm();
    };
    tick();
  };

  // The bar says what will be written.
  const writes = () => {
    const bar = main().querySelector("[data-writes]");
    if (!bar) return;
    const form = bar.closest("form");
    const told = () => {
      const said = [...form.querySelectorAll("input[name^='f.'], select[name^='f.']")]
        .filter((it) => (it.type !== "radio" || it.checked) && it.value)
        .map((it) => {
          const unit = form.elements["u." + it.name.slice(2)];
          const sign = !unit || /[^\d\s.,+-]/.test(it.value) ? ""
            : " " + (unit.tagName === "SELECT" ? unit.selectedOptions[0].textContent : it.parentElement.textContent.trim());
          return it.value + sign;
        });
      bar.textContent = said.length ? "Keep " + said.join(", ") : "Keep it";
    };
    form.addEventListener("input", told);
    told();
  };

  const same = () => {
    for (const button of main().querySelectorAll(".same button")) {
      button.hidden = false;
      button.addEventListener("click", () => {
        const field = document.getElementById(button.parentElement.dataset.fills);
        field.value = button.dataset.text;
        field.dispatchEvent(new Event("input", { bubbles: true }));
      });
    }
  };

  // The screen stays on where the browser lets a page ask for that: not over plain HTTP by address.
  const awake = async () => {
    try {
      if (navigator.wakeLock && !document.hidden) lock = lock && !lock.released ? lock : await navigator.wakeLock.request();
    } catch {
      lock = null;
    }
  };

  // What was not taken stands there still: what is typed next replaces it.
  const faulty = () => {
    const field = main().querySelector("[aria-invalid=true]");
    if (!field) return;
    field.focus({ preventScroll: true });
    if (field.select) field.select();
    field.scrollIntoView({ block: "center" });
  };

  const dress = () => {
    if (reader()) ring(reader().dataset.since, Number(reader().dataset.bells));
    faulty();
    hold();
    writes();
    same();
    unsent();
    say();
  };

  dress();
  listen();
  awake();
  send();
  setInterval(() => {
    anew();
    say();
  }, 500);
})();
