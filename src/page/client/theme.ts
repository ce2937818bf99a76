/** Light and dark: as the system wishes, until somebody chooses; the choice is kept in this browser. */
import { byId, setText } from './dom.js';

const KEY = 'loopwarden-look';
const LOOKS = ['system', 'light', 'dark'] as const;
type Look = (typeof LOOKS)[number];

/** A browser may refuse to keep anything. */
function kept(): Look {
  try {
    return LOOKS.find((l) => l === localStorage.getItem(KEY)) ?? 'system';
  } catch {
    return 'system';
  }
}

function keep(look: Look): void {
  try {
    localStorage.setItem(KEY, look);
  } catch {
    // Then it holds for this page alone.
  }
}

export function wireTheme(changed: () => void): void {
  let look = kept();
  const switchButton = byId('look');
  const apply = (): void => {
    if (look === 'system') delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = look;
    setText(switchButton, `Look: ${look}`);
    changed();
  };
  switchButton.addEventListener('click', () => {
    look = LOOKS[(LOOKS.indexOf(look) + 1) % LOOKS.length] as Look;
    keep(look);
    apply();
  });
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => changed());
  apply();
}

/** A colour of the stylesheet, for what is drawn on a canvas. */
export const colour = (name: string): string =>
  getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
