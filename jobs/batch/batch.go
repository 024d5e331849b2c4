// Package batch plans a whole order book while nobody watches: every gang gets
// a good plan quickly, then the widest gaps in money get what is left of the
// budget. A gang is planned in steps (Task) that any process can work off
// (Plan); a Runner spreads them.
package batch
