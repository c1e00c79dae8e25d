// What is wrong with a page's layout. Regions that a reader may scroll by themselves are left out of what has to fit.
([least, longestWord]) => {
  const CARDS = 960; // pixels up to which tables are blocks, so that nothing has to be scrolled sideways
  const flaws = [];
  const wide = document.documentElement.clientWidth;
  const tell = (flaw, element, more = "") =>
    flaws.push(`${flaw}: <${element.tagName.toLowerCase()} class="${element.getAttribute("class") ?? ""}"> ${more}`);
  if (document.documentElement.scrollWidth > wide) flaws.push(`the page is ${document.documentElement.scrollWidth} wide`);
  const hides = (style) => style.display === "none" || style.visibility === "hidden" || Number(style.opacity) === 0;
  const isSeen = (element) => {
    for (let one = element; one; one = one.parentElement) {
      const style = getComputedStyle(one);
      if (hides(style) || style.clipPath === "inset(50%)") return false;
    }
    return true;
  };
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const range = document.createRange();
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    const words = node.data.trim();
    if (!words || ["SCRIPT", "STYLE", "TITLE", "OPTION", "NOSCRIPT"].includes(element.tagName)) continue;
    if (!isSeen(element)) continue;
    range.selectNodeContents(node);
    const boxes = [...range.getClientRects()].filter((box) => box.width > 0);
    if (!boxes.length) continue;
    const scrolled = wide > CARDS && element.closest("[role=region]");
    const onMap = element.closest(".live");
    if (!scrolled && !onMap) {
      for (const box of boxes) {
        if (box.left < -0.5 || box.right > wide + 0.5) tell("out of the window", element, words.slice(0, 40));
      }
    }
    // Cut by an ancestor that hides what does not fit.
    for (let one = element; one && one !== document.body; one = one.parentElement) {
      if (one === scrolled || one === onMap) break;
      const style = getComputedStyle(one);
      if (style.overflowX === "visible" || one instanceof SVGElement) continue;
      const frame = one.getBoundingClientRect();
      if (boxes.some((box) => box.right > frame.right + 1 || box.left < frame.left - 1)) tell("cut", element, words.slice(0, 40));
    }
    // A box that is too small for its words.
    if (!(element instanceof SVGElement) && getComputedStyle(element).display !== "inline" && !scrolled) {
      if (element.scrollWidth > element.clientWidth + 1 && element.clientWidth > 0) tell("overflows", element, words.slice(0, 40));
    }
    let size = parseFloat(getComputedStyle(element).fontSize);
    if (element instanceof SVGElement) size *= Math.hypot(element.getScreenCTM().a, element.getScreenCTM().b);
    if (size < least - 0.05) tell(`${size.toFixed(1)} px`, element, words.slice(0, 40));
    if (element instanceof SVGElement) continue;
    for (const found of node.data.matchAll(/[^\s\u00a0/-]+/g)) {
      const [word] = found;
      if (word.length > longestWord || word.length < 2) continue;
      range.setStart(node, found.index);
      range.setEnd(node, found.index + word.length);
      const lines = new Set([...range.getClientRects()].filter((box) => box.width > 0).map((box) => Math.round(box.top)));
      if (lines.size > 1) tell("broken", element, word);
    }
  }
  // Texts of a drawing may not lie over each other, nor leave it.
  for (const drawing of document.querySelectorAll("svg")) {
    if (!isSeen(drawing)) continue;
    const frame = drawing.getBoundingClientRect();
    const texts = [...drawing.querySelectorAll("text")].filter((one) => one.textContent.trim() && isSeen(one) && !one.closest("[transform*=rotate]"));
    const boxes = texts.map((one) => one.getBoundingClientRect());
    texts.forEach((one, number) => {
      const box = boxes[number];
      if (!one.closest(".signs") && (box.left < frame.left - 2 || box.right > frame.right + 2)) tell("leaves its drawing", one, one.textContent);
      for (let other = 0; other < number; other += 1) {
        const across = Math.min(box.right, boxes[other].right) - Math.max(box.left, boxes[other].left);
        const down = Math.min(box.bottom, boxes[other].bottom) - Math.max(box.top, boxes[other].top);
        if (across > 1.5 && down > 0.3 * Math.min(box.height, boxes[other].height)) tell("over each other", one, `${one.textContent} and ${texts[other].textContent}`);
      }
    });
  }
  // Nor may labels of the live map.
  const labels = [...document.querySelectorAll(".live .badge, .live .map-label")].filter(isSeen);
  const frames = labels.map((one) => one.getBoundingClientRect());
  labels.forEach((one, number) => {
    const [live, own] = [one.closest(".live").getBoundingClientRect(), frames[number]];
    if (own.left < live.left || own.right > live.right || own.top < live.top || own.bottom > live.bottom) tell("leaves the map", one, one.textContent);
    for (let other = 0; other < number; other += 1) {
      const across = Math.min(frames[number].right, frames[other].right) - Math.max(frames[number].left, frames[other].left);
      const down = Math.min(frames[number].bottom, frames[other].bottom) - Math.max(frames[number].top, frames[other].top);
      if (across > 1 && down > 1) tell("labels over each other", one, `${one.textContent} and ${labels[other].textContent}`);
    }
  });
  return [...new Set(flaws)];
}
