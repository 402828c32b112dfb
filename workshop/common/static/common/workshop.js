/* Small comforts. Every page works without this file; nothing here decides anything. */
(() => {
  "use strict";
  const root = document.documentElement;
  const each = (where, what, deed) => {
    if (where.matches?.(what)) deed(where);
    where.querySelectorAll(what).forEach(deed);
  };

  const tell = (words) => {
    const message = document.createElement("div");
    message.className = "message message--warning";
    message.append(Object.assign(document.createElement("p"), { textContent: words }));
    document.getElementById("messages")?.replaceChildren(message);
    message.scrollIntoView({ block: "nearest" });
  };

  /* Light or dark: the choice is kept in a cookie, so that the server writes the page in it from the first byte. */
  const dark = () => root.dataset.theme ? root.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  const themeSwitch = (button) => {
    const tell = () => { button.querySelector("span").textContent = dark() ? "Light paper" : "Dark paper"; };
    button.hidden = false;
    button.addEventListener("click", () => {
      root.dataset.theme = dark() ? "light" : "dark";
      const secure = location.protocol === "https:" ? "; Secure" : "";
      document.cookie = `theme=${root.dataset.theme}; Path=/; Max-Age=31536000; SameSite=Lax${secure}`;
      tell();
    });
    tell();
  };

  /* The running clock. It counts from what the server said, never from this device's own time of day. */
  const clock = (shown) => {
    const started = performance.now() - Number(shown.dataset.seconds) * 1000;
    const tick = () => {
      const seconds = Math.floor((performance.now() - started) / 1000);
      const two = (figure) => String(figure).padStart(2, "0");
      shown.textContent = `${Math.floor(seconds / 3600)}:${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)}`;
    };
    tick();
    setInterval(tick, 1000);
  };

  /* What was typed and not sent is asked about before the page goes. */
  let unsent = 0;
  const guard = (form) => {
    let changed = false;
    form.addEventListener("input", () => { if (!changed) { changed = true; unsent += 1; } });
    form.addEventListener("submit", (event) => { if (changed && !event.defaultPrevented) { changed = false; unsent -= 1; } });
  };
  addEventListener("beforeunload", (event) => { if (unsent > 0) event.preventDefault(); });

  /* A second press while the first is under way does nothing. The server's one-time key is the real guard. */
  const release = (form) => {
    delete form.dataset.sent;
    each(form, ".busy", (button) => button.classList.remove("busy"));
  };
  const sendOnce = (form) => form.addEventListener("submit", (event) => {
    if (form.dataset.sent) { event.preventDefault(); return; }
    if (!navigator.onLine) { event.preventDefault(); tell("There is no signal just now. What you typed stays here; send it again in a moment."); return; }
    form.dataset.sent = "yes";
    each(form, "button", (button) => button.classList.add("busy"));
    /* A form that answers with a file leaves the page where it is. */
    setTimeout(release, 6000, form);
  });
  addEventListener("pageshow", (event) => { if (event.persisted) each(document, "form[data-sent]", release); });

  /* A file too large is told before it is sent; a picture is shown small. */
  const LONGEST_SIDE = 160;
  const preview = async (file, into) => {
    const picture = await createImageBitmap(file);
    const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
    const sheet = document.createElement("canvas");
    sheet.width = Math.round(picture.width * scale);
    sheet.height = Math.round(picture.height * scale);
    sheet.getContext("2d").drawImage(picture, 0, 0, sheet.width, sheet.height);
    sheet.setAttribute("role", "img");
    sheet.setAttribute("aria-label", file.name);
    picture.close();
    into.append(sheet);
  };
  const files = (input) => {
    const below = document.createElement("div");
    below.className = "previews";
    below.setAttribute("aria-live", "polite");
    input.closest(".field-control")?.after(below);
    input.addEventListener("change", () => {
      const most = Number(input.dataset.maxBytes) || Infinity;
      const chosen = [...input.files];
      const large = chosen.filter((file) => file.size > most);
      below.replaceChildren();
      input.setCustomValidity(large.length ? `${large.map((file) => file.name).join(", ")}: larger than ${Math.floor(most / 1048576)} MB.` : "");
      if (large.length) input.reportValidity();
      chosen.filter((file) => file.type.startsWith("image/") && !large.includes(file)).slice(0, 12).forEach((file) => preview(file, below).catch(() => {}));
    });
  };

  /* A disclosure of the top bar closes on Escape and when one looks elsewhere. */
  const topDisclosure = (details) => {
    details.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !details.open) return;
      details.open = false;
      details.querySelector("summary").focus();
    });
    document.addEventListener("click", (event) => { if (!details.contains(event.target)) details.open = false; });
  };

  const start = (where) => {
    each(where, "[data-theme-switch]", themeSwitch);
    each(where, "[data-seconds]", clock);
    each(where, "form[method='post']", sendOnce);
    each(where, "form[data-guard]", guard);
    each(where, "input[type='file']", files);
    each(where, ".top > details", topDisclosure);
  };
  start(document);
  document.querySelector("[data-focus]")?.focus();
  /* Pieces that htmx brings in get the same comforts. */
  document.addEventListener("htmx:load", (event) => { if (event.detail.elt !== document.body) start(event.detail.elt); });
  /* "/" goes to the search box, as long as nobody is writing. */
  document.addEventListener("keydown", (event) => {
    const writing = event.target.closest("input, textarea, select, [contenteditable]");
    if (event.key !== "/" || writing || event.ctrlKey || event.metaKey || event.altKey) return;
    const box = document.getElementById("find");
    if (box) { event.preventDefault(); box.focus(); box.select(); }
  });
})();
