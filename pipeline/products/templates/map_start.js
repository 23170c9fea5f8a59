// Fills the choices and starts the page.
function options(select, entries) {
  byId(select).replaceChildren(...entries.map(([value, words]) => el("option", { value }, words)));
}

function numberOrNull(select) {
  const value = byId(select).value;
  return value === "" ? null : Number(value);
}

function fillChoices() {
  const many = SITE.setups.length > 1;
  options("setup", [...(many ? [["", "all set-ups, the severest"]] : []), ...SITE.setups.map((setup, i) => [i, setup.name + (setup.name.includes(setup.driver) ? "" : " (" + setup.driver + ")")])]);
  const along = SITE.loops.length ? [[AS_THE_LOOP, "as the loop runs"]] : [];
  options("way", [["", "either way, the severer"], ...along, [0, "with the line →"], [1, "against it ←"]]);
  options("check", [["", "the check that decides"], ...SITE.checks.map((check, i) => [i, check])]);
  options("loop", [["", SITE.loops.length ? "none shown" : "none in this build"], ...SITE.loops.map((loop, i) => [i, loopName(loop)]), ]);
  fillWeather();
  options("only", [["", "any"], ...SITE.verdicts.map((verdict, i) => [i, verdict.word])]);
  options("order", [["severity", "severest first"], ["name", "by name"], ["length", "longest first"]]);
}

/** Show what a loop was made for: its own set-up, driven as it runs. */
function suitLoop(number) {
  const own = SITE.loops[number].setups.map((name) => SITE.setups.findIndex((setup) => setup.name === name)).filter((i) => i >= 0);
  if (own.length && !own.includes(choice.setup)) byId("setup").value = String(own[0]);
  byId("way").value = String(AS_THE_LOOP);
}

function chosen() {
  choice.setup = SITE.setups.length === 1 ? 0 : numberOrNull("setup");
  choice.way = numberOrNull("way");
  chooseWeather();
  choice.check = numberOrNull("check");
  recolour();
  showShifts();
  declutter();
  drawWays();
  showList();
  if (choice.picked !== null) showPanel(choice.picked);
}

function wire() {
  ["setup", "way", "check", "weather"].forEach((id) => byId(id).addEventListener("change", chosen));
  byId("loop").addEventListener("change", () => {
    const number = numberOrNull("loop");
    if (number !== null) suitLoop(number);
    showLoop(number, true);
    chosen();
  });
  const relist = () => {
    shown = PAGE;
    showList();
  };
  byId("find").addEventListener("input", relist);
  byId("only").addEventListener("change", relist);
  byId("order").addEventListener("change", relist);
  byId("more").addEventListener("click", () => {
    shown += PAGE;
    showList();
  });
  byId("panel-close").addEventListener("click", () => {
    const segment = choice.picked;
    pick(null, false);
    (touch[segment]?.getElement?.() ?? byId("list-head")).focus();
  });
  document.querySelector(".choices").addEventListener("submit", (event) => event.preventDefault());
  MAP.on("zoomend", () => {
    recolour();
    drawLoop(choice.loop === null ? null : SITE.loops[choice.loop]);
    declutter();
  });
  MAP.on("moveend", drawWays);
  MAP.on("overlayadd", declutter);
}

function start() {
  document.documentElement.classList.add("scripted");
  fillChoices();
  drawFurniture();
  drawTrails();
  drawThings();
  drawLegend();
  showAll();
  if (!SITE.large) makeFocusable();  // the paths exist only once the map has a view
  wire();
  if (SITE.missing.length) {
    byId("course").after(el("section", { class: "missing" }, el("h2", {}, "Loops that were not found"), ...SITE.missing.map((one) => el("p", {}, el("b", {}, data(one.loop)), ": ", data(one.why)))));
  }
  if (SITE.loops.length) {
    byId("loop").value = "0";
    suitLoop(0);
    showLoop(0, false);
  }
  chosen();
  declutter();
}

start();
