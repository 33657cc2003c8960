# Values of the reference libraries are remade and held against the stored ones.
out=$(mktemp -d)
/usr/bin/python3 tests/published/scipy/makeStepValues.py > "$out/stepValues.json"
npx tsx tests/published/compareStored.ts tests/published/scipy/stepValues.json "$out/stepValues.json" 1e-5
Rscript tests/published/reliability/reference.R > "$out/reference.json"
npx tsx tests/published/compareStored.ts tests/published/reliability/reference.json "$out/reference.json" 1e-5
rm -rf "$out"
/usr/bin/python3 tests/published/control/make_reference.py --check
