/** Journals as Hive-partitioned Parquet, `TABLE/rig=…/month=…/`, which any engine reads. Never writes over anything. */
import path from 'node:path';
import { newFolderOnceWhole, withTemporaryFolder } from '../host/durable-file.js';
import { openToBuild, quotedText } from './engine.js';
import { type Loaded, loadJournals } from './load.js';
import { TABLE_NAMES } from './tables.js';

/** @throws InputError when the folder is not empty, or there is no journal */
export async function exportParquet(
  folder: string,
  out: string,
  onProgress: (done: number, of: number) => void,
): Promise<Loaded> {
  return newFolderOnceWhole(out, (target) =>
    withTemporaryFolder(async (temporary) => {
      const engine = await openToBuild(path.join(temporary, 'tables.db'), path.join(temporary, 'spill'));
      try {
        const { connection } = engine;
        const loaded = await loadJournals(connection, {
          folder,
          wanted: new Set(TABLE_NAMES),
          onProgress,
        });
        for (const table of TABLE_NAMES) {
          if ((loaded.rows[table] ?? 0) === 0) continue;
          await connection.run(
            `COPY ${table} TO ${quotedText(path.join(target, table))} (FORMAT parquet, COMPRESSION zstd, PARTITION_BY (rig, month))`,
          );
        }
        return loaded;
      } finally {
        engine.close();
      }
    }),
  );
}
