// Loads the page again when it was made anew. A page's policy allows scripts of its own site and no other
// request, so the server answers with a script, as soon as the page is another. Tabs that nobody sees ask nothing.
"use strict";
{
  const seen = document.currentScript.dataset.seen;
  let asking = false;
  const ask = () => {
    if (asking || document.hidden) return;
    asking = true;
    const answer = document.createElement("script");
    const again = (pause) => () => {
      answer.remove();
      setTimeout(() => { asking = false; ask(); }, pause);
    };
    answer.onload = again(100);
    answer.onerror = again(1000);
    answer.src = `/.watch/after-${seen}${location.pathname}`;
    document.head.append(answer);
  };
  addEventListener("load", ask);
  document.addEventListener("visibilitychange", ask);
}
