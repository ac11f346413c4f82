/* What was typed on a page, kept in the browser until it is saved. A browser may refuse its store,
   and what lies there may be damaged: every page works without it. */
const pageStore = (() => {
  function keep(key, form) {
    const values = Object.fromEntries(new FormData(form));
    delete values.csrfmiddlewaretoken;
    attempt(() => localStorage.setItem(key, JSON.stringify(values)));
  }

  /* What was typed, by name; null where nothing is kept. */
  function kept(key) { return attempt(() => JSON.parse(localStorage.getItem(key))); }

  function forget(key) { attempt(() => localStorage.removeItem(key)); }

  function attempt(action) {
    try { return action(); } catch { return null; }
  }

  return { keep, kept, forget };
})();
