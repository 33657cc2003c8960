/** Entry of the worker threads of `diagnoseFiles`. */
export { judgeFile as default } from "./judgeFile.js";
