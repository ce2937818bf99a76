/** Holds answers against the OpenAPI document the server gives of itself. */
import { expect } from 'vitest';
import { type ZodType, z } from 'zod';

interface Described {
  readonly description?: string;
  readonly content?: Readonly<Record<string, { readonly schema: object }>>;
}
export interface Document {
  readonly openapi: string;
  readonly paths: Readonly<
    Record<string, Readonly<Record<string, { readonly responses: Readonly<Record<string, Described>> }>>>
  >;
  readonly components?: { readonly schemas?: object };
}

export interface Answer {
  readonly statusCode: number;
  readonly body: string;
}

export class Conformance {
  readonly #schemas = new Map<object, ZodType>();
  readonly #document: Document;
  /** `GET /api/state 200`, …: what was held against the document at least once. */
  readonly held = new Set<string>();

  constructor(document: object) {
    this.#document = document as Document;
  }

  /** The path as the document writes it, or null for one it has not. */
  pathOf(url: string): string | null {
    const asked = url.split('?')[0] as string;
    for (const path of Object.keys(this.#document.paths))
      if (new RegExp(`^${path.replace(/\{[^}]+\}/g, '[^/]+')}$`).test(asked)) return path;
    return null;
  }

  /** Undocumented statuses, and bodies that are not as documented, fail. */
  check(method: string, url: string, { statusCode, body }: Answer): void {
    const path = this.pathOf(url);
    const described = path === null ? undefined : this.#document.paths[path]?.[method.toLowerCase()];
    if (described === undefined) {
      expect(`${method} ${url} ${statusCode}`).toMatch(/ 4\d\d$/);
      return;
    }
    const responses = described.responses;
    const found = responses[String(statusCode)] ?? responses.default;
    const name = `${method} ${path} ${statusCode}`;
    expect([name, found === undefined ? 'not documented' : 'documented']).toEqual([name, 'documented']);
    this.held.add(name);
    const schema = found?.content?.['application/json']?.schema;
    if (schema === undefined || statusCode === 304) return;
    let known = this.#schemas.get(schema);
    if (known === undefined) {
      known = z.fromJSONSchema({ ...schema, components: this.#document.components } as never);
      this.#schemas.set(schema, known);
    }
    const isText = (schema as { type?: string }).type === 'string';
    const checked = known.safeParse(isText ? body : JSON.parse(body));
    expect([name, checked.error?.issues ?? [], body.slice(0, 200)]).toEqual([name, [], body.slice(0, 200)]);
  }
}
