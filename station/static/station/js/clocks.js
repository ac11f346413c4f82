/* Keeps both clocks of the header going, from the server's time at loading, not the console's. */
(() => {
  const clocks = document.querySelector("[data-clocks]");
  if (!clocks) return;
  const server = Date.parse(clocks.dataset.now);
  const loaded = performance.now();
  const faces = [...clocks.querySelectorAll("[data-clock]")].map((face) => ({
    face,
    format: new Intl.DateTimeFormat("en-GB", {
      timeZone: face.dataset.clock, hour: "2-digit", minute: "2-digit", hourCycle: "h23",
    }),
  }));
  const show = () => {
    const now = server + performance.now() - loaded;
    for (const { face, format } of faces) {
      const text = format.format(now);
      if (face.textContent !== text) face.textContent = text;
    }
  };
  /* Two clocks that differ: one of them is wrong, and the log writes the server's. */
  const apart = Math.abs(Date.now() - server) / 60000;
  const note = document.querySelector("[data-clock-apart]");
  if (note && apart > 2) note.hidden = false;
  show();
  setInterval(show, 1000);
})();
