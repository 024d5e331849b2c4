module laneplan

go 1.26.0

require (
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3
	github.com/shopspring/decimal v1.6.0
	golang.org/x/text v0.44.0
)

require github.com/agnivade/levenshtein v1.2.1

require (
	github.com/jedib0t/go-pretty/v6 v6.8.3
	github.com/stretchr/testify v1.12.1
	go.yaml.in/yaml/v3 v3.0.5
)

require (
	github.com/mattn/go-runewidth v0.0.16 // indirect
	github.com/rivo/uniseg v0.4.7 // indirect
	golang.org/x/sys v0.50.0 // indirect
)
