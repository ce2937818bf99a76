/** The caution every person meets, whichever way they come in. */
export const NOTICE_LINES = [
  'LIVE DC KILLS. This is not a safety function: hard-wired protection acts on its own.',
  'Local codes and licensed electrical practice govern. Limits must be confirmed by a competent person.',
] as const;
export const NOTICE = NOTICE_LINES.join('\n');
