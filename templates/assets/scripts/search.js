// Search over every page: exact words, beginnings of words, and words with a slip in them.
// The index lies in pieces beside the page; each piece calls searchPiece, which works from a folder too.
(() => {
  "use strict";
  const box = document.querySelector("[data-search]");
  const asked = document.getElementById("asked");
  const told = document.getElementById("told");
  const found = document.getElementById("found");
  const words = JSON.parse(document.getElementById("search-words").textContent);
  const MOST = 20;
  const MOST_NEAR = 40;

  const waiting = new Map();
  const pieces = new Map();
  window.searchPiece = (name, data) => waiting.get(name)(data);
  const piece = (name) => {
    if (!pieces.has(name)) {
      pieces.set(name, new Promise((ready, failed) => {
        waiting.set(name, ready);
        const script = document.createElement("script");
        script.src = `${box.dataset.search}${name}.js`;
        script.addEventListener("error", failed);
        document.head.append(script);
      }));
    }
    return pieces.get(name);
  };
  const vocabulary = piece("words").then((all) => ({...all, words: all.words.split(" ")}));

  const fold = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase().match(/[\p{L}\p{N}]+/gu) ?? [];

  // Letters to change, drop, add or swap until the question begins the word; more than `most` is told as more.
  const slips = (question, word, most) => {
    let before = null;
    let last = Array.from({length: question.length + 1}, (_, i) => i);
    let best = last[question.length];
    for (let w = 1; w <= Math.min(word.length, question.length + most); w++) {
      const row = [w];
      for (let q = 1; q <= question.length; q++) {
        const same = word[w - 1] === question[q - 1] ? 0 : 1;
        let steps = Math.min(last[q] + 1, row[q - 1] + 1, last[q - 1] + same);
        const swapped = w > 1 && q > 1 && word[w - 1] === question[q - 2] && word[w - 2] === question[q - 1];
        if (swapped) steps = Math.min(steps, before[q - 2] + 1);
        row.push(steps);
      }
      best = Math.min(best, row[question.length]);
      if (Math.min(...row) > most) break;
      before = last;
      last = row;
    }
    return best;
  };

  // The words a question may mean, and how much each is worth.
  const meant = (question, all) => {
    const near = [];
    const most = question.length < 4 ? 0 : question.length < 8 ? 1 : 2;
    all.forEach((word, number) => {
      if (word.startsWith(question)) {
        near.push([number, word === question ? 1 : 0.6 + 0.2 * question.length / word.length]);
      } else if (most && word.length >= question.length - most) {
        const wrong = slips(question, word, most);
        if (wrong <= most) near.push([number, 0.45 / wrong / (1 + 0.1 * Math.abs(word.length - question.length))]);
      }
    });
    return near.sort((one, other) => other[1] - one[1]).slice(0, MOST_NEAR);
  };

  // Every document with one of the words meant: its number and its worth.
  const having = async (near, index) => {
    const worth = new Map();
    await Promise.all(near.map(async ([number, likeness]) => {
      let at = index.starts.length - 1;
      while (index.starts[at] > number) at--;
      const coded = (await piece(`hits-${at}`))[number - index.starts[at]];
      const rare = Math.log(1 + index.documents / coded.length);
      let document = 0;
      for (const code of coded) {
        document += code >> 2;
        const one = likeness * rare * [0, 1, 3, 6][code & 3];
        worth.set(document, Math.max(worth.get(document) ?? 0, one));
      }
    }));
    return worth;
  };

  const ranked = async (questions) => {
    const index = await vocabulary;
    const each = await Promise.all(questions.map((question) => having(meant(question, index.words), index)));
    const sum = new Map();
    const times = new Map();
    for (const worth of each) {
      for (const [document, one] of worth) {
        sum.set(document, (sum.get(document) ?? 0) + one);
        times.set(document, (times.get(document) ?? 0) + 1);
      }
    }
    const all = [...sum].filter(([document]) => times.get(document) === questions.length);
    const some = all.length ? all : [...sum];
    some.sort((one, other) => other[1] - one[1] || one[0] - other[0]);
    const shown = await Promise.all(some.slice(0, MOST).map(async ([document]) =>
      (await piece(`documents-${Math.floor(document / index.aPiece)}`))[document % index.aPiece]));
    return {n: some.length, shown, some: !all.length && questions.length > 1};
  };

  const element = (name, text, className) => {
    const made = document.createElement(name);
    made.textContent = text;
    if (className) made.className = className;
    return made;
  };
  const line = ([kind, title, url, note]) => {
    const item = document.createElement("li");
    const link = document.createElement("a");
    link.href = url;
    link.append(element("bdi", title));
    item.append(link, " ", element("span", words.kinds[kind], "kind"));
    if (note) item.append(element("span", note, "summary"));
    return item;
  };
  const say = ({n, shown, some}) => {
    if (!n) return words.nothing;
    const count = n === 1 ? words.one : words.found.replace("{n}", n);
    return [some ? words.some : "", count, n > shown.length ? words.first.replace("{shown}", shown.length) : ""].join(" ");
  };

  let turn = 0;
  const answer = async () => {
    const mine = ++turn;
    const questions = fold(asked.value);
    const got = questions.length ? await ranked(questions) : {n: 0, shown: []};
    if (mine !== turn) return;
    found.replaceChildren(...got.shown.map(line));
    told.textContent = questions.length ? say(got) : "";
    history.replaceState(null, "", questions.length ? `#${encodeURIComponent(asked.value)}` : "#");
  };

  // Arrows go from the question down the list and back; Escape goes back to the question.
  box.addEventListener("keydown", (event) => {
    const stops = [asked, ...found.querySelectorAll("a")];
    const at = stops.indexOf(document.activeElement);
    const step = {ArrowDown: 1, ArrowUp: -1}[event.key];
    const next = event.key === "Escape" && at > 0 ? asked : step && at >= 0 ? stops[at + step] : null;
    if (!next) return;
    event.preventDefault();
    next.focus();
  });
  asked.addEventListener("input", answer);
  asked.value = decodeURIComponent(location.hash.slice(1)) || asked.value;
  if (asked.value) answer();
})();
