/** A browser that starts here, and what its process needs besides. */
export interface FoundBrowser {
  readonly executablePath: string;
  readonly env: Readonly<Record<string, string>>;
  readonly what: string;
  readonly why?: undefined;
}
export const FLAGS: readonly string[];
/** Of one run of tests; returns what removes it. */
export function newFolder(): () => void;
export function findBrowser(): Promise<FoundBrowser | { readonly why: string }>;
