// The page to write on: keeps what is typed, says what is odd about it, and makes the lines for the files.
// The lines are those that `corallite note` writes; tests/browser/test_writing.py compares the two.
(() => {
  "use strict";
  const form = document.querySelector("[data-write]");
  const {zone, decimal, built, amounts, months, corals, taken, length, mass, editor, words} =
    JSON.parse(document.getElementById("write-data").textContent);
  const NBSP = "\u00a0";
  const KEY = `corallite write ${location.pathname}`;
  const at = (id) => document.getElementById(id);
  const field = (name) => form.elements.namedItem(name);
  const own = (object, name) => (Object.hasOwn(object, name) ? object[name] : undefined);
  const fill = (text, blanks) => text.replace(/\{(\w+)\}/g, (_, name) => blanks[name]);
  // A day never breaks at the end of a line.
  const whole = (text) => text.replace(/(\d{4})-(\d\d)-(\d\d)/g, "$1\u2011$2\u2011$3");
  const made = (tag, text = "", look = "") => Object.assign(document.createElement(tag), {textContent: text, className: look});
  // What rounds to nothing has no sign.
  const rounded = (value, digits) => value.toFixed(digits).replace(/^-(?=[0.]+$)/, "").replace(".", decimal);
  const shown = (value, digits, unit) => `${rounded(value, digits)}${NBSP}${unit}`;

  // ---- The keeper's clock, whatever the device's says.
  let clock;
  try { clock = new Intl.DateTimeFormat("en-CA", {timeZone: zone, dateStyle: "short", timeStyle: "short", hourCycle: "h23"}); } catch { clock = null; }
  const local = (instant) => {
    const format = clock ?? new Intl.DateTimeFormat("en-CA", {dateStyle: "short", timeStyle: "short", hourCycle: "h23"});
    const [year, month, day, hour, minute] = format.format(instant).match(/\d+/g);
    return `${year}-${month}-${day}T${hour}:${minute}`;
  };
  const offset = (instant) => Date.parse(`${local(instant)}Z`) - Math.floor(instant / 60000) * 60000;
  // The instants at which that clock shows a time: none in the hour that is skipped, two in the one it shows twice.
  const instants = (text) => {
    const near = Date.parse(`${text}Z`);
    const tried = [near - 864e5, near + 864e5].map((day) => near - offset(day));
    return [...new Set(tried)].filter((instant) => local(instant) === text).sort((one, other) => one - other);
  };
  const signed = (milliseconds) => {
    const minutes = Math.abs(milliseconds) / 60000;
    const two = (number) => String(number).padStart(2, "0");
    return `${milliseconds < 0 ? "-" : "+"}${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`;
  };

  // ---- Numbers as they are typed.
  const inside = (value, ends) => !ends || (value >= ends[0] && value <= ends[1]);
  const number = (text, ends) => {
    const found = /^(<?)\s*(\d*[.,]?\d+)$/.exec(text.trim());
    if (!found) return {wrong: words.no_number};
    let plain = found[2].replace(",", ".");
    if (/^[1-9]\d{0,2},\d{3}$/.test(found[2])) {
      const both = [plain, plain.replace(".", "")];
      const possible = both.filter((each) => inside(Number(each), ends));
      if (possible.length !== 1) return {wrong: fill(words.two_ways, {one: both[0].replace(".", decimal), other: both[1]})};
      [plain] = possible;
    }
    const digits = (plain.split(".")[1] ?? "").length;
    const value = Number(plain);
    return {value, digits, below: found[1], text: `${found[1]}${value.toFixed(digits)}`};
  };

  // ---- What is odd about a number.
  const digitsOf = (text) => (text.split(".")[1] ?? "").length;
  const forecast = (ahead, seconds) => {
    const after = ahead.findIndex(([when]) => when >= seconds);
    if (after < 0 || (after === 0 && ahead[0][0] - seconds > 3600)) return null;
    if (after === 0) return ahead[0].slice(1);
    const [early, late] = [ahead[after - 1], ahead[after]];
    const share = (seconds - early[0]) / (late[0] - early[0]);
    return early.slice(1).map((each, index) => each + share * (late[index + 1] - each));
  };
  const slips = (text) => {
    const plain = text.replace(".", "");
    const digits = digitsOf(text);
    const swapped = [...plain].slice(1).map((_, i) => Number(plain.slice(0, i) + plain[i + 1] + plain[i] + plain.slice(i + 2)) / 10 ** digits);
    return [Number(text) / 10, Number(text) * 10, ...swapped].map((value) => ({value: Number(value.toPrecision(9))}));
  };
  const odd = (about, read, seconds) => {
    const {value, digits, text} = read;
    const say = (each) => shown(each, Math.max(digits, about.digits), about.unit);
    const likely = (each) => inside(each, about.possible) && (about.far === undefined || Math.abs(each - about.last) <= about.far);
    const meant = () => {
      const one = about.last === undefined ? null : slips(text.replace("<", "")).find((each) => likely(each.value) && each.value !== value);
      return one ? ` ${fill(words.meant, {value: shown(one.value, digitsOf(String(one.value)), about.unit)})}` : "";
    };
    if (about.possible && !read.below && !inside(value, about.possible)) return [`${fill(words.impossible, {value: shown(value, digits, about.unit)})}${meant()}`];
    const found = [];
    if (about.band) {
      const [low, high] = about.band;
      if (high !== null && value > high) found.push(fill(words.above, {end: say(high)}));
      if (low !== null && value < low) found.push(fill(words.below, {end: say(low)}));
    }
    if (about.stock !== undefined && value > about.stock) found.push(fill(words.container, {most: say(about.stock)}));
    else if (about.most !== undefined && value > about.most) found.push(fill(words.too_much, {most: shown(about.most, Math.max(0, 1 - Math.floor(Math.log10(about.most))), about.unit)}));
    else if (about.usual > 0 && (value > 5 * about.usual || (value > 0 && 8 * value < about.usual))) found.push(`${fill(words.unusual, {usual: say(about.usual)})}${meant()}`);
    if (!read.below && about.far !== undefined && Math.abs(value - about.last) > about.far) found.push(`${fill(words.far, {last: say(about.last), day: about.day})}${meant()}`);
    const expected = about.ahead?.length && !read.below ? forecast(about.ahead, seconds) : null;
    if (expected && (value < expected[1] || value > expected[2])) {
      const [middle, low, high] = expected.map((each) => rounded(each, Math.max(digits, about.digits)));
      found.push(fill(words.outlook, {value: `${middle}${NBSP}${about.unit}`, low, high: `${high}${NBSP}${about.unit}`}));
    }
    return found;
  };

  // ---- Words for the files: as generator/shorthand writes them.
  const clean = (text) => text.replaceAll('"', "\u201d").replace(/[\p{C}\s]+/gu, " ").trim();
  const empty = (text) => ["null", "~", ""].includes(text.toLowerCase());
  const written = (text) => (/^[A-Za-z0-9<][\p{L}\p{N}_.<>/%°µ+ -]*$/u.test(text) && !empty(text) ? text : JSON.stringify(text));
  const sentence = (text) => (/^\p{L}[^:#"\\]*$/u.test(text) && !empty(text) ? text : JSON.stringify(text));
  const braces = (parts) => `{${parts.map(([name, value]) => `${name}: ${value}`).join(", ")}}`;
  const remark = (text) => (/;|^["'\u201c\u201e\u2018]/.test(text) ? `"${text}"` : text);
  const command = (subject, line) => {
    const quoted = /["$`\\!]/.test(line) ? `'${line.replaceAll("'", "'\\''")}'` : `"${line}"`;
    return `corallite note ${subject} ${quoted}`;
  };

  // ---- A system's part: one entry of its log.
  const PARTS = ["readings", "doses", "pumps"];
  const SAID = {readings: "", doses: "dosed ", pumps: "pump "};
  const typed = (id) => Object.keys(amounts).filter((name) => name.startsWith(`${id}/`) && field(name).value.trim());
  const judge = (name, seconds) => {
    const about = amounts[name];
    const told = at(`${name}-odd`);
    const text = field(name).value;
    const read = text.trim() ? number(text, about.possible) : null;
    const found = !read ? [] : read.wrong ? [read.wrong] : odd(about, read, seconds);
    const adds = read?.value && about.adds ? fill(words.adds, {of: about.of, by: shown(read.value * about.adds, 2, about.in)}) : "";
    told.classList.toggle("off", found.length > 0);
    told.textContent = whole([...found, adds].filter(Boolean).join(" "));
    return read && !read.wrong ? `${read.text} ${about.unit}` : null;
  };
  const system = (id) => {
    const moment = field(`${id}/at`).value;
    const when = instants(moment);
    const seconds = (when[0] ?? Date.now()) / 1000;
    const note = at(`${id}-clock`);
    const here = local(Date.now());
    const device = Intl.DateTimeFormat().resolvedOptions().timeZone;
    const odds = [
      moment > here ? words.future : "", !moment || when.length ? "" : words.gap, when.length > 1 ? words.twice : "",
      Date.now() / 1000 < built - 86400 ? words.device_clock : "", clock ? "" : words.zone_unknown,
    ].filter(Boolean);
    note.classList.toggle("off", odds.length > 0);
    note.textContent = [fill(words.zone, {zone}), clock && device !== zone ? fill(words.here, {zone: device, time: here.slice(11)}) : "", ...odds].filter(Boolean).join(" ");
    const values = new Map();
    for (const name of Object.keys(amounts).filter((each) => each.startsWith(`${id}/`))) {
      const value = judge(name, seconds);
      if (value !== null) values.set(name.slice(id.length + 1), value);
    }
    const text = clean(field(`${id}/note`).value);
    if (!moment || !when.length || (!values.size && !text)) return null;
    const facts = [];
    const lines = [];
    for (const part of PARTS) {
      const inPart = [...values].filter(([name]) => name.startsWith(`${part}/`)).map(([name, value]) => [name.slice(part.length + 1), value]);
      facts.push(...inPart.map(([name, value]) => `${SAID[part]}${name} ${value}`));
      if (inPart.length) lines.push(`${part}: ${braces(inPart)}`);
      const kit = field(`${id}/kit`)?.value;
      if (part === "readings" && inPart.length && kit) {
        facts.push(`kit ${kit}`);
        lines.push(`kit: ${kit}`);
      }
    }
    const volume = values.get("water_change/volume");
    if (volume) {
      const mix = field(`${id}/mix`)?.value ?? "";
      facts.push(`water change ${volume}${mix ? ` ${mix}` : ""}`);
      lines.push(`water_change: ${braces([["volume", volume], ...(mix ? [["mix", mix]] : [])])}`);
    }
    const hidden = field(`${id}/private`).checked;
    if (text) lines.push(`note: ${sentence(text)}`, ...(hidden ? ["private: true"] : []));
    const said = [facts.join(", "), text ? `${hidden ? "private note" : "note"}: ${remark(text)}` : ""].filter(Boolean).join("; ");
    const day = moment.replace("T", " ");
    const twice = when.length > 1 ? signed(offset(when[0])) : "";
    const month = moment.slice(0, 7);
    return {
      command: command(id, `${day}: ${said}`),
      file: `logs/${id}/${month}.yaml`,
      isNew: !months[id].includes(month),
      schema: "# yaml-language-server: $schema=../../.schemas/logs.json\n",
      text: [`- at: ${day}${twice}`, ...lines.map((line) => `  ${line}`)].join("\n"),
      where: words.at_end,
    };
  };

  // ---- A coral's event.
  const quantity = (of, name, unit, wrongs) => {
    const text = of(name).value;
    if (!text.trim()) return null;
    const read = number(text);
    if (read.wrong || read.below) wrongs.push(words.no_number);
    return read.wrong || read.below ? null : {...read, said: `${read.text} ${unit}`};
  };
  const SIDES = ["length", "width", "height"];
  const unlikely = (about, side, value, day) => {
    const last = about?.size?.[side];
    if (!last) return "";
    // As `check` judges a side: more than the fastest coral grows, and 4 cm for the hand that measures; or far less.
    const cm = {mm: 0.1, cm: 1, m: 100, in: 2.54}[length] ?? 1;
    const years = Math.max(0, Date.parse(day) - Date.parse(about.at)) / 31557600000;
    if (value * cm > 1.3 * last * cm + 4 + 40 * years) return fill(words.large_side, {last: about.last});
    return value * 2.5 < last && value * cm < last * cm - 1 ? fill(words.small_side, {last: about.last}) : "";
  };
  const idOf = (name) => name.normalize("NFKD").replace(/[^\x00-\x7f]/g, "").toLowerCase().replace(/[^a-z0-9]+/g, "-")
    .replace(/^-+|-+$/g, "").slice(0, 64).replace(/-+$/, "");
  const newcomer = (of, day, note, wrongs) => {
    const [name, species] = [clean(of("name").value), of("species").value.trim()];
    const id = idOf(name);
    const [home, place] = of("place").value.split(" ");
    if (!id || taken.includes(id)) wrongs.push(words.no_name);
    if (!/^[A-Z][a-z]{2,} ([a-z]{3,}|sp\.)$/.test(species)) wrongs.push(words.no_species);
    if (!home) wrongs.push(words.where_to);
    if (wrongs.length) return null;
    const [shape, way, partner] = [of("form").value, of("way").value, of("partner")?.value ?? ""];
    const line = /^(.*?)[ -]?\d+$/.exec(id)?.[1] || id;
    const arrival = [["at", day], ["how", way], ...(partner ? [["partner", partner]] : []), ...(note ? [["note", written(note)]] : [])];
    const said = `new "${name}" ${species} ${shape}, ${way}${partner ? ` from ${partner}` : ""}${place ? `, ${place}` : ""}${note ? `: "${note}"` : ""}`;
    return {
      command: command(home, `${day}: ${said}`), file: `corals/${id}.yaml`, isNew: true,
      schema: "# yaml-language-server: $schema=../.schemas/corals.json\n",
      text: [`name: ${written(name)}`, `species: ${written(species)}`, `line: ${line}`, `form: ${shape}`, `arrival: ${braces(arrival)}`,
        "placements:", `  - ${braces([["since", day], ["system", home], ...(place ? [["place", place]] : [])])}`].join("\n"),
      where: words.new_file,
    };
  };
  const coral = (row) => {
    const of = (name) => row.querySelector(`[data-name="${name}"]`);
    const what = of("what").value;
    for (const part of row.querySelectorAll("[data-for]")) part.hidden = !part.dataset.for.split(" ").includes(what);
    const about = own(corals, of("coral").value);
    const day = of("day").value;
    const wrongs = [];
    const odds = [];
    const note = clean(of("note").value);
    row.querySelector("[data-known]").textContent = what === "sizes" && about?.last ? whole(about.last) : "";
    const tell = () => { row.querySelector(".odd").textContent = whole([...wrongs, ...odds].join(" ")); row.querySelector(".odd").classList.add("off"); };
    if (what === "new") {
      const begun = of("name").value.trim();
      const one = begun && day ? newcomer(of, day, note, wrongs) : null;
      tell();
      return one;
    }
    let [said, parts] = ["", []];
    if (what === "sizes") {
      const sides = SIDES.map((side) => quantity(of, side, length, wrongs));
      const given = sides.filter(Boolean);
      if (given.length && sides.slice(0, given.length).every(Boolean)) {
        said = `measured ${given.map((each) => each.said).join(" x ")}`;
        parts = given.map((each, index) => [SIDES[index], each.said]);
        odds.push(...given.map((each, index) => unlikely(about, SIDES[index], each.value, day)).filter(Boolean));
      }
    } else if (what === "weighings") {
      const [whole, holder] = [quantity(of, "mass", mass, wrongs), quantity(of, "holder", mass, wrongs)];
      const wet = of("in_water").checked;
      if (whole) {
        const step = about?.step ?? `${(10 ** -whole.digits).toFixed(whole.digits)} ${mass}`;
        said = `weighed ${whole.said}${holder ? ` holder ${holder.said}` : ""}${wet ? " in water" : ""}`;
        parts = [["mass", whole.said], ["resolution", step], ...(wet ? [["in_water", "true"]] : []), ...(holder ? [["holder", holder.said]] : [])];
      }
    } else if (what === "placements") {
      const [home, place] = of("place").value.split(" ");
      if (home) {
        said = `moved to ${place ? `${place} in ` : ""}${home}`;
        parts = [["system", home], ...(place ? [["place", place]] : [])];
      }
    } else if (what === "cuttings") {
      const [frags, cut] = [quantity(of, "frags", "", wrongs), quantity(of, "cut", mass, wrongs)];
      if (frags && !frags.digits && frags.value >= 1) {
        said = `cut ${frags.value} frags${cut ? ` ${cut.said}` : ""}`;
        parts = [["frags", String(frags.value)], ...(cut ? [["mass", cut.said]] : [])];
        odds.push(words.frags);
      }
    } else if (what === "health") {
      said = `health ${of("health").value}`;
      parts = [["what", of("health").value]];
    } else if (what === "photos") {
      const file = of("file").value.trim();
      if (/^[^\s,;:"']+\.(jpe?g|png|webp|heic|heif)$/i.test(file)) {
        said = `photo ${file}`;
        parts = [["file", written(file)], ...(note ? [["alt", written(note)]] : [])];
      } else if (file) wrongs.push(words.no_file);
    } else {
      const [how, partner] = [of("end").value, of("partner")?.value ?? ""];
      const whom = (how === "given" || how === "sold") && partner;
      said = `${how}${whom ? ` to ${partner}` : ""}`;
      parts = [["how", how], ...(note ? [["cause", written(note)]] : []), ...(whom ? [["partner", partner]] : [])];
    }
    const noted = ["cuttings", "health", "photos", "end"].includes(what) && note;
    if (noted && what !== "end" && what !== "photos") parts.push(["note", written(note)]);
    if (day > local(Date.now()).slice(0, 10)) odds.push(words.future);
    tell();
    if (!about || !day || !said || wrongs.length) return null;
    const item = braces([[what === "placements" ? "since" : "at", day], ...parts]);
    const listed = about.has.includes(what);
    return {
      command: command(of("coral").value, `${day}: ${said}${noted ? `: "${note}"` : ""}`),
      file: about.file,
      text: what === "end" ? `end: ${item}` : `${listed ? "" : `${what}:\n`}  - ${item}`,
      where: listed ? fill(words.below_list, {list: what}) : words.at_end,
    };
  };

  // ---- The finished lines.
  const copy = async (text, from) => {
    try {
      await navigator.clipboard.writeText(text);
      at("said").textContent = words.copied;
    } catch {
      getSelection().selectAllChildren(from);
      at("said").textContent = document.execCommand("copy") ? words.copied : words.select;
    }
  };
  const block = (title, note, text, href, text_of_file) => {
    const box = made("div", "", "finished");
    const lines = made("pre", "", "lines");
    lines.append(made("code", text));
    lines.tabIndex = 0;
    const buttons = made("div", "", "buttons");
    const button = made("button", words.copy);
    button.type = "button";
    button.addEventListener("click", () => copy(text_of_file ?? text, lines));
    buttons.append(button);
    if (href) buttons.append(Object.assign(made("a", words.open), {href, rel: "noopener noreferrer", target: "_blank"}));
    box.append(made("h3", title), ...(note ? [made("p", note, "note")] : []), lines, buttons);
    return box;
  };
  const address = (one) => {
    if (!editor) return "";
    if (!one.isNew) return editor.edit + one.file;
    const cut = one.file.lastIndexOf("/");
    const name = encodeURIComponent(one.file.slice(cut + 1));
    // Forges differ in what they call the name of a new file; each takes the one it knows.
    return `${editor.new}${one.file.slice(0, cut)}?filename=${name}&file_name=${name}&value=${encodeURIComponent(`${one.schema}${one.text}\n`)}`;
  };
  let finished = "";
  const output = (found) => {
    const commands = found.map((each) => each.command).join("\n");
    const blocks = found.map((each) => {
      const text = each.isNew ? `${each.schema}${each.text}` : each.text;
      return block(fill(words.file, {file: each.file}), each.isNew ? words.new_file : each.where, text, address(each));
    });
    at("output").replaceChildren(...(found.length ? [block(words.command, "", commands), ...blocks] : [made("p", words.empty, "note")]));
    finished = found.length ? [commands, ...found.map((each) => `# ${each.file}\n${each.text}`)].join("\n\n") : "";
    at("to-lines").hidden = !found.length;
    at("to-lines").textContent = fill(words.lines, {n: found.length});
    at("share").hidden = !finished || !navigator.share;
  };

  // ---- Rows for corals, and what is kept.
  const rows = () => [...at("coral-rows").children];
  const addRow = () => {
    const row = at("coral-row").content.cloneNode(true).firstElementChild;
    const next = 1 + Math.max(0, ...rows().map((each) => Number(each.dataset.number)));
    row.dataset.number = next;
    for (const each of row.querySelectorAll("[data-name]")) each.name = `coral-${next}/${each.dataset.name}`;
    for (const each of row.querySelectorAll("[id]")) each.removeAttribute("id");
    row.querySelector('[data-name="day"]').value = local(Date.now()).slice(0, 10);
    row.querySelector("[data-remove]").addEventListener("click", () => { row.remove(); at("another").focus(); update(); });
    at("coral-rows").append(row);
    return row;
  };
  const named = () => [...form.elements].filter((each) => each.name);
  const state = () => Object.fromEntries(named().filter((each) => each.type !== "radio" || each.checked)
    .map((each) => [each.name, each.type === "checkbox" ? (each.checked ? "on" : "") : each.value]));
  let keeps = true;
  const keep = () => {
    try { localStorage.setItem(KEY, JSON.stringify(state())); } catch { keeps = false; }
    at("keeping").textContent = keeps ? words.kept : words.not_kept;
    at("keeping").classList.toggle("off", !keeps);
  };
  const restore = () => {
    let kept = null;
    try { kept = JSON.parse(localStorage.getItem(KEY)); } catch { keeps = false; }
    if (!kept || typeof kept !== "object") return;
    for (const number of new Set(Object.keys(kept).map((name) => /^coral-(\d{1,4})\//.exec(name)?.[1]).filter(Boolean))) {
      const row = addRow();
      row.dataset.number = number;
      for (const each of row.querySelectorAll("[data-name]")) each.name = `coral-${number}/${each.dataset.name}`;
    }
    for (const each of named()) {
      const value = own(kept, each.name);
      if (typeof value !== "string") continue;
      if (each.type === "radio") each.checked = each.value === value;
      else if (each.type === "checkbox") each.checked = value === "on";
      else each.value = value;
    }
  };
  const begun = (id) => typed(id).length > 0 || field(`${id}/note`).value.trim() !== "";
  const choose = () => {
    const chosen = form.querySelector('[name="system"]:checked')?.value;
    for (const part of form.querySelectorAll("[data-system]")) part.classList.toggle("chosen", part.dataset.system === chosen);
  };
  const update = () => {
    choose();
    output([...Object.keys(months).map(system), ...rows().map(coral)].filter(Boolean));
  };
  const setNow = (id) => { field(`${id}/at`).value = local(Date.now()); };

  form.addEventListener("submit", (event) => event.preventDefault());
  // The moment is that of the first number or word, whenever the page was opened.
  const started = new Set();
  const touch = (target, part) => {
    if (!part || started.has(part)) return;
    started.add(part);
    if (target.type !== "datetime-local") setNow(part);
  };
  form.addEventListener("input", ({target}) => {
    touch(target, target.closest("[data-system]")?.dataset.system);
    update();
    keep();
  });
  form.addEventListener("click", ({target}) => {
    const part = target.closest("[data-system]")?.dataset.system;
    if (target.dataset.by) touch(target, part);
    if (target.dataset.now !== undefined) setNow(part);
    else if (target.dataset.by) {
      const input = target.parentElement.querySelector("input");
      const about = amounts[input.name];
      const read = number(input.value, about.possible);
      const digits = Math.max(about.digits, digitsOf(String(about.step)), read.digits ?? 0);
      // The first press writes the last value; from there it goes up and down.
      const next = read.wrong ? about.last ?? about.band?.find((end) => end !== null) ?? about.step : read.value + Number(target.dataset.by) * about.step;
      input.value = rounded(Math.max(0, next), digits);
    } else return;
    update();
    keep();
  });
  at("another").addEventListener("click", () => { addRow().querySelector("select").focus(); update(); keep(); });
  at("share").addEventListener("click", () => { navigator.share({text: finished}).catch(() => {}); });
  at("clear").addEventListener("click", () => {
    if (!confirm(words.clear_all)) return;
    for (const row of rows()) row.remove();
    form.reset();
    Object.keys(months).forEach(setNow);
    started.clear();
    try { localStorage.removeItem(KEY); } catch { keeps = false; }
    update();
    at("said").textContent = "";
  });
  addEventListener("beforeunload", (event) => { if (!keeps && finished) event.preventDefault(); });

  Object.keys(months).forEach(setNow);
  restore();
  for (const id of Object.keys(months)) {
    if (begun(id)) started.add(id);
    else setNow(id);
  }
  // Which system or coral the page was opened for, and perhaps its size from a photo.
  const [asked, ...sides] = location.hash.slice(4).split(":");
  if (own(months, asked)) at(`in-${asked}`).checked = true;
  else if (own(corals, asked) && !rows().some((row) => row.querySelector('[data-name="coral"]').value === asked)) {
    at(`in-${corals[asked].system}`).checked = true;
    const row = addRow();
    row.querySelector('[data-name="coral"]').value = asked;
    for (const [index, side] of sides.slice(0, 3).entries()) row.querySelector(`[data-name="${SIDES[index]}"]`).value = side;
  }
  update();
})();
