package cf

import (
	"github.com/castwright/castwright/metadata"
)

// tableVersion is that of the CF standard name table in metadata.
const tableVersion = 83

type standardName struct{ canonical, aliasOf string }

// lookUp finds a name in the CF standard name table.
func lookUp(name string) (standardName, bool) {
	units, _, ok := metadata.StandardName(name)
	return standardName{units, metadata.StandardNameAlias(name)}, ok
}

// modifiers of standard names (CF Appendix C) and the units they give: "" those of the name, else these.
var modifiers = map[string]string{"detection_minimum": "", "standard_error": "", "number_of_observations": "1",
	"status_flag": "-"}

// deprecated modifiers are still read, and warned of (CF Appendix C).
var deprecatedModifiers = []string{"number_of_observations", "status_flag"}
