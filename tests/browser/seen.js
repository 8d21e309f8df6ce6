// What can be measured of a page as it stands: given to the browser by the tests as one function.
() => {
  const shown = one => {
    const box = one.getBoundingClientRect(), style = getComputedStyle(one);
    return box.width > 1.5 && box.height > 1.5 && style.visibility !== "hidden" && box.right > 0 && one.checkVisibility();
  };
  const named = one => `${one.tagName.toLowerCase()}.${[...one.classList].join(".")} "${(one.textContent || one.name || "").trim().slice(0, 40)}"`;
  const pressed = [...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")].filter(
    one => shown(one) && !one.closest(".hide")
  );
  // A word in a sentence is as high as its line (WCAG 2.2, 2.5.8: inline); a tick is pressed by its words too.
  const within = one => {
    if (getComputedStyle(one).display !== "inline") return false;
    const around = one.parentElement.textContent.trim().length;
    return around > one.textContent.trim().length + 3;
  };
  const sizes = pressed.filter(one => !within(one)).map(one => {
    const whole = one.closest("label") || one, box = whole.getBoundingClientRect();
    const least = one.classList.contains("press") ? 44 : 24;
    return [named(one), Math.round(box.width), Math.round(box.height), least];
  }).filter(([, width, height, least]) => height < least - 0.5 || width < Math.min(least, 24) - 0.5);
  const words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), small = [];
  for (let node; (node = words.nextNode());) {
    const one = node.parentElement;
    if (!node.data.trim() || !shown(one) || one.closest("script, style, option, .hide")) continue;
    let size = parseFloat(getComputedStyle(one).fontSize);
    const root = one.closest("svg[viewBox]");
    if (root) size *= root.getScreenCTM().a;
    if (size < 13.9) small.push(`${named(one)} ${size.toFixed(1)} px`);
  }
  const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  const over = wide <= 0 ? [] : [...document.querySelectorAll("body *")].filter(
    one => one.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !one.closest(".scroll, svg svg")
  ).slice(0, 4).map(named);
  return {
    h1: document.querySelectorAll("h1").length, lang: document.documentElement.lang, title: document.title,
    main: document.querySelectorAll("main").length, small: [...new Set(small)], sizes, wide, over,
    empty: pressed.filter(one => one.tagName === "A" && !(one.textContent.trim() || one.getAttribute("aria-label"))).map(named),
    styled: [...document.querySelectorAll("body [style], body style, body script:not([src])")].map(named),
  };
}
