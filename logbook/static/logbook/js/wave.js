/* The change of wave: a stamp writes the time of the page's clock; what was stamped and typed is
   kept until it is saved, because the network in the hall is often lost. */
(() => {
  const form = document.querySelector("[data-wave]");
  if (!form) return;
  const key = `wave/${form.dataset.draft}`;
  const ofAnyWave = ["ht_off", "rf_on", "full_power", "day", "note", "client_key"];

  for (const button of form.querySelectorAll("[data-stamp]")) {
    button.addEventListener("click", (event) => {
      event.preventDefault();
      const now = pageTime();
      document.getElementById(button.dataset.stamp).value = now.slice(11, 19);
      if (button.value === "rf_on") form.elements.day.value = now.slice(0, 10);
      keep();
    });
  }
  form.addEventListener("input", keep);
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("input")) toNext(event);
  });
  restore();

  /* Enter leads on, as on the round page: it must never stamp or save. */
  function toNext(event) {
    event.preventDefault();
    const fields = [...form.querySelectorAll("input:not([type=hidden]), select, .main-action")];
    fields[fields.indexOf(event.target) + 1].focus();
  }

  /* The server's time at loading and what has passed since: the tablet's own clock may be wrong. */
  function pageTime() {
    const server = Date.parse(document.querySelector("[data-clocks]").dataset.now);
    return new Date(server + performance.now()).toISOString();
  }

  function keep() { pageStore.keep(key, form); }

  /* A page that the server gave back holds what was typed already; one that was saved is done. */
  function restore() {
    const values = pageStore.kept(key);
    if (!values || form.dataset.fresh !== "yes") return;
    if (document.cookie.includes(`wave_saved=${values.client_key}`)) {
      pageStore.forget(key);
      return;
    }
    const isSameWave = values.frequency === form.elements.frequency.value;
    for (const [name, value] of Object.entries(values)) {
      if (form.elements[name] && (isSameWave || ofAnyWave.includes(name))) form.elements[name].value = value;
    }
  }
})();
