package seawater

// ITS90ToIPTS68 converts a temperature in degC of ITS-90 to IPTS-68: t68 = 1.00024 t90 (Saunders 1990, WOCE Newsletter
// 10).
func ITS90ToIPTS68(t90 float64) float64 { return float64(1.00024 * t90) }

// IPTS68ToITS90 converts a temperature in degC of IPTS-68 to ITS-90: t90 = t68/1.00024 (Saunders 1990).
func IPTS68ToITS90(t68 float64) float64 { return t68 / 1.00024 }
