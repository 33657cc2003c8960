# The package as a user gets it: packed, installed in an empty project, run and type-checked from there.
npx publint --strict
npx tsx tests/package/consume.ts
