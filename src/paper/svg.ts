/** A vega-lite specification becomes SVG text, without a browser. */

/** Loads vega only here: it takes longer than most commands. */
export async function specToSvg(spec: Record<string, unknown>): Promise<string> {
  const [vega, vegaLite] = await Promise.all([import('vega'), import('vega-lite')]);
  // The specification is data of ours; the library's own type for it is a union of several hundred lines.
  const compiled = vegaLite.compile(spec as unknown as Parameters<typeof vegaLite.compile>[0]).spec;
  const view = new vega.View(vega.parse(compiled), { renderer: 'none' });
  try {
    return await view.toSVG();
  } finally {
    view.finalize();
  }
}
