// What kind of page this is, its data says.

addEventListener("DOMContentLoaded", () => {
  const begun = performance.now(), data = readData();
  watchLook();
  window[`open${capital(data.page)}`]?.(data);
  findAll("table.data").forEach(enliven);
  document.documentElement.dataset.ready = Math.round(performance.now() - begun);
});
