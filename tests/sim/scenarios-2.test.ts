import { scenarioSuite } from './scenario-suite.js';

scenarioSuite(1, 2);
