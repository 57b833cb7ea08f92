// Sheets and 3D looks lie packed in the file (gzip, base64) and are unpacked when a room is opened.

async function unpack(key) {
  const pack = all("script[data-pack]").find((script) => script.dataset.pack === key);
  const bytes = Uint8Array.from(atob(pack.textContent), (letter) => letter.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return JSON.parse(await new Response(stream).text());
}

function showSheet(place, sheet) {
  if (!sheet) {
    place.replaceChildren(make("p", {}, "No sheet was drawn for this ceiling."));
    return;
  }
  const address = URL.createObjectURL(new Blob([sheet], { type: "image/svg+xml" }));
  const name = `${place.dataset.alt.replace(/[^\p{L}\p{N}]+/gu, "-")}.svg`;
  const picture = make("img", {
    src: address,
    alt: `${place.dataset.alt}; its borders, findings and quantities stand above in words`,
  });
  place.replaceChildren(
    make("a", { href: address, target: "_blank", rel: "noopener", class: "large" }, picture),
    make(
      "p",
      {},
      make("a", { href: address, target: "_blank", rel: "noopener" }, "Open the sheet large"),
      " or ",
      make("a", { href: address, download: name }, "save it as SVG"),
    ),
  );
}

function fillPacks(root) {
  for (const place of all(".sheet[data-pack]", root)) {
    unpack(place.dataset.pack)
      .then((pack) => place.isConnected && showSheet(place, pack.sheet))
      .catch(() => {
        const words = "This browser cannot unpack the sheet; ifcgrid setout draws it as a file.";
        place.replaceChildren(make("p", {}, words));
      });
  }
  for (const place of all(".look[data-pack]", root)) {
    one(".open-look", place).addEventListener("click", () => {
      unpack(place.dataset.pack)
        .then((pack) => place.isConnected && openLook(place, pack.look))
        .catch(() => refuseLook(place));
    });
  }
}
