// Package netcdf writes the CF files of an archive: casts, sections at stations, station pairs with geostrophic
// velocity, and grids. It chooses names, attributes and layout; internal/nc, or another writer behind the same
// interface, makes the file.
//
// Every file declares CF-1.11 and ACDD-1.3 and obeys 1.12 and 1.13 as well. Casts, sections and pairs are featureType
// profile, with one cf_role in a file. Values of the sea are doubles; missing is _FillValue -9999, never NaN. Text is
// char arrays, UTF-8, NFC. Nothing needs more than the classic data model, so that a writer of that format can be
// used instead.
//
//	x := &netcdf.Common{Cruise: cruise, Created: stamp, Program: "castwright 0.1.0", Workers: 2}
//	err := netcdf.WriteCasts(ctx, "/abs/casts/ID_ctd.nc", x, casts)
//	err = netcdf.WriteSection(ctx, "/abs/sections/NAME_section.nc", x, sec, "title")
//
// The same arguments give the same bytes, whatever Workers is. A path must be absolute and free; after an error the
// file there, if any, is not whole. Folders that appear whole are package export's business.
package netcdf
