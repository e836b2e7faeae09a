// Package metadata holds the words that the rest of castwright is said in: variables and their names in each
// standard, quality flags of each published scheme, places in input files, findings, and provenance records.
// It reads no file, logs nothing and asks no clock.
//
//	v, ok := metadata.ByExchange("CTDTMP", "ITS-90")   // the in-situ temperature
//	v.StandardName                                      // "sea_water_temperature"
//	f, ok := metadata.WOCECTD.Flag('2')                 // metadata.Acceptable
package metadata
