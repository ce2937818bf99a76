import { scenarioSuite } from './scenario-suite.js';

scenarioSuite(0, 2);
