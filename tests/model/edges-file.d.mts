export const EDGES_FILE: string;
export const RENEW: string;
export function fileText(table: readonly string[]): string;
export function differences(was: string, is: string): string[];
