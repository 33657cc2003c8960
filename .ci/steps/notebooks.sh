# The stored notebooks are what their sources give, and one becomes a page. (All of them run in a real Notebook server among the tests.)
npm run --silent notebooks -- --check
npm run --silent lab -- --setup
export JUPYTER_PATH="$PWD/.jupyter${JUPYTER_PATH:+:$JUPYTER_PATH}"
out=$(mktemp -d)
jupyter-nbconvert --to notebook --execute --ExecutePreprocessor.timeout=600 --output-dir "$out" notebooks/03-passes-torque-fails-speed.ipynb
jupyter-nbconvert --to html --output-dir "$out" "$out/03-passes-torque-fails-speed.ipynb"
test "$(wc -c < "$out/03-passes-torque-fails-speed.html")" -gt 100000
rm -rf "$out"
