/** Entry of the processes of `diagnoseFiles`. */
export { judgeFile as default } from "./judgeFile.js";
