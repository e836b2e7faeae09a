package seawater_test

import (
	"fmt"

	"github.com/castwright/castwright/section/seawater"
)

func ExamplePlaceOf() {
	at := seawater.PlaceOf(-30, 20) // degrees east, degrees north
	sa := at.AbsoluteSalinity(35.2, 1500)
	fmt.Printf("%.4f g/kg\n", sa)
	fmt.Printf("height %.2f m\n", seawater.Height(1500, 20))
	baltic := seawater.PlaceOf(20, 58)
	fmt.Printf("in the Baltic %.4f g/kg\n", baltic.AbsoluteSalinity(7, 50))
	// Output:
	// 35.3702 g/kg
	// height -1485.49 m
	// in the Baltic 7.1026 g/kg
}

func ExampleConservativeTemperature() {
	// The first level below the surface of the TEOS-10 check cast at 11 N 142 E.
	sa, t, p := 34.4981270669693, 27.963, 10.0
	ct := seawater.ConservativeTemperature(sa, t, p)
	fmt.Printf("%.6f degC, sigma0 %.6f kg/m3\n", ct, seawater.Sigma0(sa, ct))
	fmt.Printf("sound %.3f m/s\n", seawater.SoundSpeed(sa, t, p))
	// Output:
	// 27.993857 degC, sigma0 21.909103 kg/m3
	// sound 1540.608 m/s
}

func ExamplePracticalSalinity() {
	// Unesco 44: the standard seawater, 42.914 mS/cm at 15 degC (IPTS-68).
	fmt.Printf("%.5f\n", seawater.PracticalSalinity(42.914, 15/1.00024, 0))
	// Output: 35.00000
}

func ExampleDerive() {
	sp := []float64{35.1, 35.0, 34.9}
	t := []float64{18.0, 15.0, 11.0}
	p := []float64{10, 100, 300}
	at := seawater.PlaceOf(-30, 35)
	d := seawater.Derived{
		ConservativeTemperature:  make([]float64, 3),
		Sigma0:                   make([]float64, 3),
		MidPressure:              make([]float64, 2),
		BuoyancyFrequencySquared: make([]float64, 2),
	}
	seawater.Derive(&d, sp, t, p, nil, &at)
	fmt.Printf("CT %.3f sigma0 %.3f\n", d.ConservativeTemperature, d.Sigma0)
	fmt.Printf("N2 %.2e at %v dbar\n", d.BuoyancyFrequencySquared, d.MidPressure)
	// Output:
	// CT [17.986 14.974 10.954] sigma0 [25.353 25.979 26.708]
	// N2 [6.71e-05 3.57e-05] at [55 200] dbar
}
