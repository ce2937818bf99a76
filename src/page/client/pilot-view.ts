/** The pilot current as it was sampled, in a chart of its own. */
import uPlot from 'uplot';
import type { Pilot } from './contract.js';
import { byId, setHidden, setText } from './dom.js';
import { AXIS_PX, axis, inkStroke } from './plot.js';
import { sessionTime } from './words.js';

export class PilotView {
  readonly #host = byId('pilot-plot');
  #plot: uPlot | null = null;

  show(pilot: Pilot): void {
    const { samplesA, spacingNs, atMs } = pilot;
    setHidden(this.#host, samplesA.length === 0);
    if (samplesA.length === 0) {
      setText(
        byId('pilot-word'),
        'No window sampled yet. Order “sample pilot”, or wait for the proof of presence.',
      );
      return;
    }
    const stepMs = (spacingNs ?? 1e6) / 1e6;
    const unitMs = spacingNs !== null;
    const data: uPlot.AlignedData = [samplesA.map((_, i) => i * stepMs), samplesA.map((a) => a * 1000)];
    const greatest = Math.max(...samplesA) * 1000;
    const least = Math.min(...samplesA) * 1000;
    setText(
      byId('pilot-word'),
      `Sampled at ${sessionTime(atMs, true)}: ${samplesA.length} samples${unitMs ? ` ${stepMs.toFixed(3)} ms apart` : ', spacing not known'}, from ${least.toFixed(2)} to ${greatest.toFixed(2)} mA.`,
    );
    if (this.#plot === null) this.#make(data);
    else this.#plot.setData(data);
  }

  redraw(): void {
    this.#plot?.redraw(false, true);
  }

  #make(data: uPlot.AlignedData): void {
    this.#plot = new uPlot(
      {
        width: this.#host.clientWidth,
        height: this.#host.clientHeight,
        legend: { show: false },
        padding: [6, 12, 0, 0],
        scales: { x: { time: false } },
        series: [
          {},
          {
            stroke: inkStroke,
            width: 1.5,
            points: { show: true, size: 4, stroke: inkStroke, fill: inkStroke },
          },
        ],
        axes: [
          axis({ size: 26, values: (_, s) => s.map((v) => `${v} ms`) }),
          axis({ size: AXIS_PX, space: 26, values: (_, s) => s.map((v) => `${v} mA`) }),
        ],
        cursor: { drag: { x: true, y: false } },
      },
      data,
      this.#host,
    );
    new ResizeObserver(() => {
      const { clientWidth, clientHeight } = this.#host;
      if (clientWidth > 0 && clientHeight > 0)
        this.#plot?.setSize({ width: clientWidth, height: clientHeight });
    }).observe(this.#host);
  }
}
