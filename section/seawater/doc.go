// Package seawater holds published equations of seawater, one function for each: practical and Absolute Salinity,
// Conservative and potential temperature, the 75-term specific volume and what follows from it, sound speed, height,
// oxygen solubility and freezing. Functions of numbers only: a NaN argument gives a NaN result and nothing returns an
// error. It has no casts, flags or files, and corrects no data.
//
//	at := seawater.PlaceOf(-30, 20)                      // longitude and latitude in degrees; keeps the atlas cell
//	sa := at.AbsoluteSalinity(35.2, 1500)                // practical salinity, dbar -> g/kg
//	ct := seawater.ConservativeTemperature(sa, 6.1, 1500)
//	rho := seawater.Density(sa, ct, 1500)                // kg/m3
//	z := seawater.Height(1500, 20)                       // m, negative below the surface
//
// Symbols are those of the TEOS-10 manual (IOC, SCOR and IAPSO 2010): sp practical salinity (PSS-78, no unit), sa
// Absolute Salinity in g/kg, t in-situ temperature in degC (ITS-90), pt potential temperature referred to 0 dbar, ct
// Conservative Temperature, p sea pressure in dbar (absolute less 10.1325 dbar).
//
// Names in the plural are the same equations for a whole profile: the destination comes first, is filled and returned,
// and nothing is allocated. Slices of different length are the caller's mistake and panic. Derive computes many
// quantities of one cast at once, with the bits of the single functions.
//
// Results have the same bits on every processor: each product is rounded before it is added (no fused multiply-add),
// and the logarithm, exponential and sine that are needed are written here.
package seawater

// Constants of TEOS-10 (IOC, SCOR and IAPSO 2010, appendix D).
const (
	StandardSalinity = 35.16504         // g/kg, Absolute Salinity of the standard ocean, SSO
	ReferenceFactor  = 35.16504 / 35    // g/kg, u_PS: reference salinity of unit practical salinity
	HeatCapacity     = 3991.86795711963 // J/(kg K), cp0, the factor that defines Conservative Temperature
	ZeroCelsiusK     = 273.15           // K
	StandardGravity  = 9.7963           // m/s2, mean of the ocean's surface; used where the latitude is unknown

	perDbar   = 1e4                        // Pa in one dbar
	perY      = 1.0 / 40                   // 1/K: y = t/40 and Y = CT/40
	perZ      = 1e-4                       // 1/dbar: z = p/1e4
	perUnitX2 = 1 / (40 * 35.16504 / 35.0) // kg/g: x^2 = SA/(40 u_PS)
	offsetX2  = 24 * perUnitX2             // X^2 = (SA + 24 g/kg)/(40 u_PS)
)

// Panics of this package: mistakes of the caller, not of the data.
const (
	differentLengths = "seawater: slices of different length"
	midLength        = "seawater: destination at mid pressures must be one shorter than the profile"
	noSuchReference  = "seawater: reference of sigma is 0 to 4 (thousand dbar)"
)

func sameLength(n int, others ...int) {
	for _, m := range others {
		if m != n {
			panic(differentLengths)
		}
	}
}
