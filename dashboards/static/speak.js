// A script's text in the page's language: from what the page brings along, else as it is.
"use strict";
const speak = (() => {
  const brought = JSON.parse(document.getElementById("texts")?.textContent || "{}");
  return (text, given = {}) => (brought[text] || text).replace(/\{(\w+)\}/g, (_, name) => given[name]);
})();
