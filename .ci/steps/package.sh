# The package as a user gets it: packed, installed in an empty project, run and type-checked from there.
npm run --silent api-docs
npx publint --strict
npx tsx tests/package/consume.ts
