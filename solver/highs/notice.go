package highs

import _ "embed"

//go:embed third-party.txt
var thirdParty string

// Notice is the licence of the embedded engine and of what is compiled into
// it, for printing with the licences of a program that contains it.
func Notice() (string, error) {
	licence, err := engineFile("LICENSE")
	if err != nil {
		return "", err
	}
	return string(licence) + "\n" + thirdParty, nil
}
