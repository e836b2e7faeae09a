package main

import (
	"github.com/castwright/castwright/cmd/internal/trace"
	"github.com/urfave/cli/v2"
)

func traceCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "trace", Usage: "say where a file or a value of an archive came from",
		ArgsUsage: "[OPTIONS] ARCHIVE ITEM",
		Description: `Prints the value, the data that it was made of, the inputs with lines and checksums, and every processing step with its settings. For
a measured value it prints its line of the input, for a node of a grid the data with their weights. ITEM is one of

FILE                                    a file of the archive, such as tables/transports.csv
cast:CAST:VARIABLE[:PRESSURE]           a value of a cast, such as cast:5/1:psal:100 or cast:5/1:lat; CAST is STATION/NUMBER
section:NAME:CAST:VARIABLE:PRESSURE     the same in the file of a section, such as section:strait:5/1:dynamic_height:100
series:NAME:CAST:VARIABLE:PRESSURE      the same in the file of a time series
node:SECTION:VARIABLE:KM:PRESSURE       a value of a gridded section, such as node:strait:ctemp:110:104
field:FIELD:VARIABLE:LON:LAT:PRESSURE   a value of a field on longitude, latitude and pressure, or density
pair:SECTION:A-B:VARIABLE[:PRESSURE]    a value between two stations, such as pair:strait:4-5:velocity:100
total:SECTION:VARIABLE                  the transport of a section, such as total:strait:transport
table:TABLE:LINE:COLUMN                 a cell of a table, such as table:transports:2:transport; the names are in line 1

EXAMPLE
   castwright trace demo/saltmarten-2026-05 cast:5/1:psal:100
   castwright trace --graph demo/saltmarten-2026-05 total:strait:transport | dot -Tsvg > trace.svg`,
		Flags: []cli.Flag{jsonFlag(u), &cli.BoolFlag{Name: "graph", Usage: "print a graph in the DOT language"}},
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 2, "an archive and an item")
			if err != nil {
				return err
			}
			if c.Bool("graph") && c.Bool("json") {
				return &usageError{msg: "--graph and --json exclude each other", hint: "leave one out"}
			}
			t, err := trace.Run(c.Context, trace.Plan{Archive: args[0], Item: args[1]})
			switch {
			case err != nil:
				return err
			case c.Bool("json"):
				return u.json(t)
			case c.Bool("graph"):
				return t.WriteDOT(u.out)
			}
			return t.Write(u.out)
		},
	}
}
