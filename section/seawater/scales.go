package seawater

// ITS90ToIPTS68 converts a temperature in degC of ITS-90 to IPTS-68: t68 = 1.00024 t90 (Saunders 1990, WOCE Newsletter
// 10).
func ITS90ToIPTS68(t90 float64) float64 { return float64(1.00024 * t90) }

// IPTS68ToITS90 converts a temperature in degC of IPTS-68 to ITS-90: t90 = t68/1.00024 (Saunders 1990).
func IPTS68ToITS90(t68 float64) float64 { return t68 / 1.00024 }

// IPTS48ToIPTS68 converts a temperature in degC of IPTS-48 to IPTS-68: t68 = t48 - 4.4e-6 t48 (100 - t48)
// (Fofonoff and Bryden 1975). For data taken before 1968.
func IPTS48ToIPTS68(t48 float64) float64 { return t48 - float64(4.4e-6*t48*(100-t48)) }

// IPTS48ToITS90 converts a temperature in degC of IPTS-48 to ITS-90, by way of IPTS-68.
func IPTS48ToITS90(t48 float64) float64 { return IPTS68ToITS90(IPTS48ToIPTS68(t48)) }
