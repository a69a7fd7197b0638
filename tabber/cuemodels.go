package tabber

import "blowdraw/tabber/tab"

// learnedCues are the models of the marks that are decided by cues; cues_fit_test.go
// says what they were fitted on.
var learnedCues = map[string]cueModel{
	tab.Scoop:       {-7.342, []float64{0.073, -0.712, 2.470, 2.415, 3.262, -0.260, 0.187, -2.875, 1.142}},
	tab.Fall:        {-3.853, []float64{0.088, 0.088, 2.293, 2.311, 3.527, -0.186, -0.789, -2.882, 0.385, -0.510}},
	tab.Dip:         {-0.906, []float64{1.192, 1.877, 1.403, -1.987, 0.627, -0.844, -1.553}},
	tab.Slap:        {-1.169, []float64{0.129, 0.069, 0.113, 0.038, -0.525, -1.394, 0.056}},
	tab.Wah:         {1.062, []float64{-0.040, 1.644, 0.609, 1.065, 0.118, -1.534, -4.036, -0.206, 3.187, -0.470, 0.658, -0.006}},
	tab.HandClose:   {-8.406, []float64{0.175, -0.888, 0.159, 0.475, -0.672, 1.036, -2.450, 0.040, 3.387, 1.234, -0.058, 0.076}},
	tab.HandVibrato: {-12.340, []float64{2.629, 5.415, 1.109, -0.031, -1.652, -3.859, 0.703}},
	tab.Tongued:     {-3.087, []float64{0.362, -0.001, 0.274, -0.030, 2.450, 3.612, 1.076}},
}
