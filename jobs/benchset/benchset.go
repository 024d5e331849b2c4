// Package benchset reads the instances of a benchmark: bare problems and job
// files (YAML), and lists of published instances (JSON) with the best cost
// known of each.
//
//	instances, err := benchset.Read("testdata/bench")
package benchset

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/shopspring/decimal"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/jobs/intake/fault"
)

// Instance is one problem of a benchmark.
type Instance struct {
	Name string
	Gang jobs.Gang
	// Best is the best cost known, whoever found it, Status how it is known,
	// Published the cost of the plan that Source printed or stored; nil and
	// empty where nothing is known.
	Best, Published *decimal.Decimal
	Status, Source  string
}

// Read reads one file, or every .yaml and .json file of a folder by name. The
// faults of all files are reported at once, as a fault.List.
func Read(path string) ([]Instance, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fault.Of(path, "there is no such file or folder")
	}
	paths := []string{path}
	if info.IsDir() {
		if paths, err = files(path); err != nil {
			return nil, err
		}
		if len(paths) == 0 {
			return nil, fault.Of(path, "want a folder with instances (.yaml or .json), got none")
		}
	}
	var all []Instance
	var faults fault.List
	for _, path := range paths {
		instances, err := readFile(path)
		if found, ok := err.(fault.List); ok {
			faults.Add(found...)
		} else if err != nil {
			return nil, err
		}
		all = append(all, instances...)
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return all, nil
}

func files(folder string) ([]string, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, err
	}
	var paths []string
	for _, e := range entries {
		if ext := filepath.Ext(e.Name()); !e.IsDir() && (ext == ".yaml" || ext == ".yml" || ext == ".json") {
			paths = append(paths, filepath.Join(folder, e.Name()))
		}
	}
	slices.Sort(paths)
	return paths, nil
}

func readFile(path string) ([]Instance, error) {
	if filepath.Ext(path) == ".json" {
		return readList(path)
	}
	gang, err := intake.ReadFile(path)
	if err != nil {
		return nil, err
	}
	name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	return []Instance{{Name: name, Gang: gang}}, nil
}

// published is one instance of a list.
type published struct {
	Name        string          `json:"name"`
	Lanes       int             `json:"lanes"`
	Demand      []int           `json:"demand"`
	RowCost     decimal.Decimal `json:"row_cost"`
	SectionCost decimal.Decimal `json:"section_cost"`
	Sections    int             `json:"sections"` // exactly so many; 0 is free
	BestKnown   struct {
		Rows     int             `json:"rows"`
		Cost     decimal.Decimal `json:"cost"`
		Sections int             `json:"sections"`
		Status   string          `json:"status"`
	} `json:"best_known"`
	Published decimal.Decimal `json:"published"` // the cost of its source's own plan
	Source    string          `json:"source"`
}

func readList(path string) ([]Instance, error) {
	data, err := fault.ReadFile(path, intake.MostBytes)
	if err != nil {
		return nil, err
	}
	var list []published
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&list); err != nil {
		return nil, fault.List{{File: path, Line: 1 + bytes.Count(data[:d.InputOffset()], []byte("\n")),
			Message: fmt.Sprintf("want a list of published instances: %v", err)}}
	}
	var all []Instance
	var faults fault.List
	for i, p := range list {
		instance := p.instance()
		for _, f := range instance.Gang.Check() {
			faults.Add(fault.Fault{File: path, Field: fmt.Sprintf("[%d].%s", i, f.Path), Message: f.Message})
		}
		all = append(all, instance)
	}
	return all, faults.Err()
}

func (p published) instance() Instance {
	g := jobs.Gang{
		ID:    p.Name,
		Die:   jobs.Die{Lanes: p.Lanes},
		Bare:  &jobs.BareCosts{Row: p.RowCost, Section: p.SectionCost},
		Rules: jobs.Rules{Sections: p.Sections},
	}
	order := jobs.Order{}
	for i, quantity := range p.Demand {
		order.Versions = append(order.Versions, jobs.Version{ID: "V" + strconv.Itoa(i+1), Quantity: quantity})
	}
	g.Orders = []jobs.Order{order}
	out := Instance{Name: p.Name, Gang: g, Status: p.BestKnown.Status, Source: p.Source}
	if p.BestKnown.Cost.IsPositive() {
		out.Best = &p.BestKnown.Cost
	}
	if p.Published.IsPositive() {
		out.Published = &p.Published
	}
	return out
}
