// Package metadata holds what all packages of castwright share: variables and their names in each standard, quality
// flags, places in input files, findings, and provenance records.
// It reads no file, logs nothing and asks no clock.
//
//	v, ok := metadata.ByExchange("CTDTMP", "ITS-90")   // the in-situ temperature
//	v.StandardName                                      // "sea_water_temperature"
package metadata
