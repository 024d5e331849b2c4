package intake

import _ "embed"

// Schema is the JSON Schema of a bare problem and of a job file, by which
// editors complete and check them. What it cannot say, such as whether the
// lanes fit the web, only ReadFile checks.
//
//go:embed job.schema.json
var Schema []byte
