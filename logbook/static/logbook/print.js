/* A page that was noted as printed opens the print dialogue; its number stands on the paper. */
window.addEventListener("load", () => window.print());
