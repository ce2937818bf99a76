/** Before all tests: the folder in which the first that needs a browser unpacks it; removed when all are done. */
import { newFolder } from './chromium.mjs';

export default (): (() => void) => newFolder();
