package seawater

// ITS90ToIPTS68 converts a temperature in degC of ITS-90 to IPTS-68: t68 = 1.00024 t90 (Saunders 1990, WOCE Newsletter
// 10).
func ITS90ToIPTS68(t90 float64) float64 { return float64(1.00024 * t90) }
