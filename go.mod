module laneplan

go 1.26

require github.com/shopspring/decimal v1.6.0

require github.com/agnivade/levenshtein v1.2.1

require (
	github.com/stretchr/testify v1.12.1
	go.yaml.in/yaml/v3 v3.0.5
)
