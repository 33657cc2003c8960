import type { HeadingTable } from "./writeTable.js";

/**
 * Headings as different people write them, each with the numbers of a simulated rig. Terms of open standards (object
 * names of CiA 402, PROFIdrive parameters) are from memory; the rest is common practice, no source.
 */
export const headingTables: readonly HeadingTable[] = [
  {
    habit: "CANopen drive profile (CiA 402) object names",
    machine: "servo",
    trial: "speed",
    columns: `
Time [ms] = time ms
Statusword = status -
Velocity demand value [rpm] = speedCommand {rev}/min
Velocity actual value [rpm] = speed {rev}/min
Position actual value [inc] = position {count}
Torque actual value [0.1%] = torque [ppth]
Current actual value [mA] = current mA
Following error actual value = positionError -
DC link circuit voltage [mV] = voltageBus mV`,
  },
  {
    habit: "PLC axis structure",
    machine: "servo",
    trial: "position",
    delimiter: ";",
    columns: `
t[ms] = time ms
MAIN.Axis1.Status.SetPos = positionCommand deg ?
MAIN.Axis1.Status.ActPos = position deg ?
MAIN.Axis1.Status.ActVelo = speed deg/s ?
MAIN.Axis1.Status.PosDiff = positionError -
MAIN.Axis1.nActTorque = torque % ?
MAIN.Axis1.bEnable = one -`,
  },
  {
    habit: "PLC variables with type letters",
    machine: "gear",
    trial: "speed",
    delimiter: ";",
    columns: `
tTime = time ms ?
rSetVelocity = speedCommand {rev}/min ?
rActVelocity = speed {rev}/min ?
rMotorCurrent = current A ?
bReady = one -
iErrorCode = zero -`,
  },
  {
    habit: "drive parameters by number",
    machine: "spindle",
    trial: "ramp",
    delimiter: ";",
    columns: `
Time (s) = time s
r62: speed setpoint [rpm] = speedCommand {rev}/min
r63: speed actual value [rpm] = speed {rev}/min
r78: current actual value torque-generating [A] = current A
r77: current setpoint torque-generating [A] = currentCommand A
r80: torque actual value [Nm] = torque N.m
r70: DC link voltage [V] = voltageBus V`,
  },
  {
    habit: "German test bench",
    machine: "spindle",
    trial: "speed",
    delimiter: ";",
    columns: `
Zeit [s] = time s
n_soll [1/min] = speedCommand {rev}/min
n_ist [1/min] = speed {rev}/min
M_ist [Nm] = torque N.m
I_q [A] = current A
I_d [A] = currentD A
U_ZK [V] = voltageBus V
T_Wicklung [°C] = temperature Cel`,
  },
  {
    habit: "German drive trace, words",
    machine: "servo",
    trial: "position",
    delimiter: ";",
    columns: `
Zeit ms = time ms
Lagesollwert Inkr = positionCommand {count}
Lageistwert Inkr = position {count}
Schleppabstand Inkr = positionError -
Drehzahlistwert U/min = speed {rev}/min
Momentensollwert % = torqueCommand %`,
  },
  {
    habit: "French laboratory",
    machine: "gear",
    trial: "duty",
    delimiter: ";",
    columns: `
Temps (s) = time s
Rapport cyclique (%) = duty %
Tension induit (V) = voltage V
Courant induit (A) = current A
Vitesse de rotation (tr/min) = speed {rev}/min
Position (°) = position deg`,
  },
  {
    habit: "Spanish laboratory",
    machine: "gear",
    trial: "loop",
    delimiter: ";",
    columns: `
Tiempo (ms) = time ms
Referencia (rpm) = speedCommand {rev}/min
Velocidad medida (rpm) = speed {rev}/min
Señal de control (%) = duty %
Error (rpm) = error -`,
  },
  {
    habit: "Italian drive export",
    machine: "servo",
    trial: "speed",
    delimiter: ";",
    columns: `
Tempo [ms] = time ms
Velocità richiesta [giri/min] = speedCommand {rev}/min
Velocità effettiva [giri/min] = speed {rev}/min
Corrente di coppia [A] = current A
Tensione bus [V] = voltageBus V
Temperatura motore [°C] = temperature Cel`,
  },
  {
    habit: "Portuguese notes",
    machine: "gear",
    trial: "speed",
    delimiter: ";",
    columns: `
tempo_s = time s
ref_rpm = speedCommand {rev}/min
velocidade_rpm = speed {rev}/min
corrente_A = current A
tensao_V = voltage V`,
  },
  {
    habit: "Polish laboratory",
    machine: "small",
    trial: "speed",
    delimiter: ";",
    columns: `
Czas [s] = time s
Prędkość zadana [obr/min] = speedCommand {rev}/min
Prędkość [obr/min] = speed {rev}/min
Prąd [A] = current A
Napięcie [V] = voltage V
Kąt [rad] = position rad`,
  },
  {
    habit: "Turkish laboratory",
    machine: "gear",
    trial: "speed",
    columns: `
Zaman(ms) = time ms
Referans Hız(rpm) = speedCommand {rev}/min
Ölçülen Hız(rpm) = speed {rev}/min
PWM = duty {count} ?
Akım(A) = current A`,
  },
  {
    habit: "Japanese servo monitor",
    machine: "servo",
    trial: "speed",
    columns: `
時間[ms] = time ms
速度指令[r/min] = speedCommand {rev}/min
モータ速度[r/min] = speed {rev}/min
トルク指令[%] = torqueCommand %
位置偏差[pulse] = positionError -`,
  },
  {
    habit: "Chinese bench",
    machine: "spindle",
    trial: "speed",
    columns: `
时间(s) = time s
给定转速(rpm) = speedCommand {rev}/min
实际转速(rpm) = speed {rev}/min
Q轴电流(A) = current A
D轴电流(A) = currentD A
母线电压(V) = voltageBus V
电机温度(℃) = temperature Cel`,
  },
  {
    habit: "Korean bench",
    machine: "servo",
    trial: "speed",
    columns: `
시간(ms) = time ms
속도지령(rpm) = speedCommand {rev}/min
실제속도(rpm) = speed {rev}/min
전류(A) = current A
토크(Nm) = torque N.m`,
  },
  {
    habit: "Russian bench",
    machine: "spindle",
    trial: "ramp",
    delimiter: ";",
    columns: `
Время, с = time s
Задание скорости, об/мин = speedCommand {rev}/min
Скорость, об/мин = speed {rev}/min
Ток статора, А = current A
Напряжение ЗПТ, В = voltageBus V
Момент, Н·м = torque N.m`,
  },
  {
    habit: "robot joint states, dotted",
    machine: "gear",
    trial: "position",
    columns: `
header.stamp.sec = time s
joint_states.position[0] = position rad ?
joint_states.velocity[0] = speed rad/s ?
joint_states.effort[0] = torque N.m ?
controller.desired.position = positionCommand rad ?
controller.error.position = positionError -`,
  },
  {
    habit: "robot topic as a table",
    machine: "servo",
    trial: "position",
    columns: `
%time = time ns ?
field.header.seq = row -
field.position0 = position rad ?
field.velocity0 = speed rad/s ?
field.effort0 = torque N.m ?`,
  },
  {
    habit: "simulation signals",
    machine: "small",
    trial: "speed",
    columns: `
time = time s ?
wm_ref = speedCommand rad/s ?
wm = speed rad/s ?
theta_m = position rad ?
theta_e = electricalAngle rad ?
ia = currentU A ?
ib = currentV A ?
ic = currentW A ?
Te = torque N.m ?
Vdc = voltageBus V ?`,
  },
  {
    habit: "simulation dq",
    machine: "servo",
    trial: "speed",
    columns: `
t = time s ?
omega_ref = speedCommand rad/s ?
omega = speed rad/s ?
iq_ref = currentCommand A ?
iq = current A ?
id = currentD A ?
vq = voltageQ V ?
vd = voltageD V ?`,
  },
  {
    habit: "open FOC board, estimates",
    machine: "small",
    trial: "speed",
    columns: `
timestamp = time s ?
vel_setpoint = speedCommand {rev}/s ?
vel_estimate = speed {rev}/s ?
pos_estimate = position {rev} ?
Iq_setpoint = currentCommand A ?
Iq_measured = current A ?
vbus_voltage = voltageBus V ?
ibus = currentBus A ?`,
  },
  {
    habit: "FOC library monitor",
    machine: "gear",
    trial: "speed",
    delimiter: "\t",
    columns: `
t_us = time us
target = speedCommand rad/s ?
voltage_q = voltageQ V ?
voltage_d = voltageD V ?
current_q = current A ?
current_d = currentD A ?
shaft_velocity = speed rad/s ?
shaft_angle = position rad ?`,
  },
  {
    habit: "speed controller telemetry",
    machine: "small",
    trial: "duty",
    delimiter: ";",
    columns: `
ms_today = time ms
input_voltage = voltageBus V ?
temp_mos_max = driveTemperature Cel ?
temp_motor = temperature Cel ?
current_motor = current A ?
current_in = currentBus A ?
d_axis_current = currentD A ?
q_axis_current = zero A ? current
duty_cycle = duty 1 ?
erpm = zero - ? none
fault_code = zero -`,
  },
  {
    habit: "hobby serial plotter",
    machine: "gear",
    trial: "loop",
    delimiter: "\t",
    columns: `
millis = time ms
target_rpm = speedCommand {rev}/min
current_rpm = speed {rev}/min
pwm_out = duty {count} ?
err = error -`,
  },
  {
    habit: "camel case of a program",
    machine: "gear",
    trial: "position",
    columns: `
elapsedMs = time ms
targetAngleDeg = positionCommand deg
measuredAngleDeg = position deg
angularVelocityDegPerSec = speed deg/s
motorCurrentAmps = current A
positionErrorDeg = positionError -
kP = kp -`,
  },
  {
    habit: "units in the middle of the heading",
    machine: "small",
    trial: "speed",
    columns: `
time_ms_boot = time ms
spd_rpm_ref = speedCommand {rev}/min
spd_rpm_m1 = speed {rev}/min
cur_mA_filt = current mA
vbat_mV_avg = voltageBus mV
pos_deg_abs = position deg`,
  },
  {
    habit: "English bench, words in brackets",
    machine: "servo",
    trial: "current",
    columns: `
Time [s] = time s
Current command (A) = currentCommand A
Current feedback (A) = current A
Motor speed (RPM) = speed {rev}/min
Torque sensor (N·m) = torque N.m
Encoder position (counts) = position {count}`,
  },
  {
    habit: "torque test, lead order in the name",
    machine: "servo",
    trial: "current",
    file: "UWV torque.csv",
    columns: `
Time = time s ?
I cmd = currentCommand A ?
I act = current A ?
Speed = speed {rev}/min ?
Pos = position deg ?`,
  },
  {
    habit: "short names with spaces",
    machine: "servo",
    trial: "speed",
    columns: `
t ms = time ms
v cmd rpm = speedCommand {rev}/min
v fb rpm = speed {rev}/min
i cmd A = currentCommand A
i fb A = current A
pos cnt = position {count}`,
  },
  {
    habit: "SI symbols, unit after a slash",
    machine: "spindle",
    trial: "speed",
    delimiter: ";",
    columns: `
t / s = time s
n / min-1 = speed {rev}/min
n* / min-1 = speedCommand {rev}/min
M / Nm = torque N.m
i_q / A = current A
u_DC / V = voltageBus V
ϑ_M / °C = temperature Cel`,
  },
  {
    habit: "Greek letters",
    machine: "small",
    trial: "speed",
    columns: `
t (s) = time s
ω* (rad/s) = speedCommand rad/s
ω (rad/s) = speed rad/s
θ (rad) = position rad
i_q (A) = current A
τ (N·m) = torque N.m`,
  },
  {
    habit: "dynamometer",
    machine: "spindle",
    trial: "ramp",
    columns: `
Time(sec) = time s
Speed(RPM) = speed {rev}/min
Torque(N-m) = torque N.m
DC Voltage(V) = voltageBus V
DC Current(A) = currentBus A
Phase Current(Arms) = current A
Power(W) = power -
Motor Temp(C) = temperature Cel
Controller Temp(C) = driveTemperature Cel`,
  },
  {
    habit: "two axes",
    machine: "servo",
    trial: "speed",
    columns: `
time = time s ?
x_vel_cmd = speedCommand rad/s ?
x_vel = speed rad/s ?
x_cur = current A ?
y_vel_cmd = speedCommand rad/s ?
y_vel = speed rad/s ?
y_cur = current A ?`,
  },
  {
    habit: "wheels of a robot",
    machine: "gear",
    trial: "loop",
    columns: `
Time(ms) = time ms
L_target(rpm) = speedCommand {rev}/min
L_actual(rpm) = speed {rev}/min
L_pwm = duty {count} ?
R_target(rpm) = speedCommand {rev}/min
R_actual(rpm) = speed {rev}/min
R_pwm = duty {count} ?`,
  },
  {
    habit: "process trend",
    machine: "spindle",
    trial: "ramp",
    delimiter: ";",
    columns: `
Sekunden = time s
M101 Sollwert Hz = speedCommand Hz
M101 Istdrehzahl 1/min = speed {rev}/min
M101 Strom A = current A
M101 Leistung kW = power -
M101 Störung = zero -`,
  },
  {
    habit: "data logger with a device name on all columns",
    machine: "servo",
    trial: "speed",
    columns: `
Time/s = time s
Drive1::VelocityCommand/rpm = speedCommand {rev}/min
Drive1::VelocityFeedback/rpm = speed {rev}/min
Drive1::CurrentCommand/A = currentCommand A
Drive1::CurrentFeedback/A = current A
Drive1::PositionError/counts = positionError -
Drive1::BusVoltage/V = voltageBus V`,
  },
  {
    habit: "id of a signal in the heading",
    machine: "servo",
    trial: "speed",
    delimiter: ";",
    columns: `
Sample = row -
Time [us] = time us
CH1: VCMD [rpm] = speedCommand {rev}/min
CH2: V [rpm] = speed {rev}/min
CH3: ICMD [A] = currentCommand A
CH4: IQ [A] = current A
CH5: PE [counts] = positionError -`,
  },
  {
    habit: "Dutch",
    machine: "gear",
    trial: "speed",
    delimiter: ";",
    columns: `
Tijd (s) = time s
Gewenst toerental (omw/min) = speedCommand {rev}/min
Gemeten toerental (omw/min) = speed {rev}/min
Stroom (A) = current A
Motorspanning (V) = voltage V
Koppel (Nm) = torque N.m`,
  },
  {
    habit: "Swedish and Danish mixed shop",
    machine: "gear",
    trial: "speed",
    delimiter: ";",
    columns: `
tid s = time s
börvärde varv/min = speedCommand {rev}/min
ärvärde varv/min = speed {rev}/min
ström A = current A
spänning V = voltage V`,
  },
  {
    habit: "Czech drive log",
    machine: "servo",
    trial: "position",
    delimiter: ";",
    columns: `
Čas [ms] = time ms
Poloha žádaná [°] = positionCommand deg
Poloha skutečná [°] = position deg
Rychlost skutečná [ot/min] = speed {rev}/min
Proud [A] = current A`,
  },
  {
    habit: "learning data set",
    machine: "gear",
    trial: "position",
    columns: `
timestep = row -
t = time s ?
q = position rad ?
dq = speed rad/s ?
ddq = acceleration -
tau = torque N.m ?
q_des = positionCommand rad ?`,
  },
  {
    habit: "actuator bench with both sides",
    machine: "gear",
    trial: "current",
    columns: `
time [s] = time s
motor torque desired [Nm] = torqueCommand N.m
motor torque measured [Nm] = torque N.m
output position [rad] = position rad
output velocity [rad/s] = speed rad/s
motor temperature [C] = temperature Cel
driver temperature [C] = driveTemperature Cel
bus voltage [V] = voltageBus V`,
  },
  {
    habit: "electric vehicle log",
    machine: "spindle",
    trial: "ramp",
    columns: `
Timestamp(s) = time s
Motor RPM = speed {rev}/min
Battery Voltage = voltageBus V ?
Battery Current = currentBus A ?
Motor Current = current A ?
Throttle = duty % ? duty
Motor Temp = temperature Cel ?
Controller Temp = driveTemperature Cel ?`,
  },
  {
    habit: "capital abbreviations",
    machine: "servo",
    trial: "speed",
    columns: `
TIME_MS = time ms
SPD_CMD = speedCommand {rev}/min ?
SPD_FBK = speed {rev}/min ?
TRQ_CMD = torqueCommand % ?
CUR_FBK = current A ?
POS_ERR = positionError -
BUS_VOLT = voltageBus V ?`,
  },
  {
    habit: "sentences",
    machine: "gear",
    trial: "speed",
    columns: `
Elapsed time in seconds = time s
Desired motor speed in rpm = speedCommand {rev}/min
Measured motor speed in rpm = speed {rev}/min
Measured motor current in amps = current A
Applied motor voltage in volts = voltage V ! voltage`,
  },
  {
    habit: "hydraulic-like noise: other sensors beside",
    machine: "spindle",
    trial: "ramp",
    columns: `
Time s = time s
Spindle speed rpm = speed {rev}/min
Spindle speed cmd rpm = speedCommand {rev}/min
Spindle current A = current A
Spindle load % = load -
Coolant temp C = driveTemperature Cel
Vibration mm/s = acceleration - other
Door closed = one -`,
  },
  {
    habit: "step response of a student",
    machine: "gear",
    trial: "duty",
    columns: `
Time (ms) = time ms
Input Voltage (V) = voltage V ! voltage
Output Speed (rad/s) = speed rad/s
Armature Current (A) = current A`,
  },
  {
    habit: "scope of a drive, q and d with stars",
    machine: "servo",
    trial: "speed",
    columns: `
Time[s] = time s
Iq*[A] = currentCommand A
Iq[A] = current A
Id[A] = currentD A
Speed*[rpm] = speedCommand {rev}/min
Speed[rpm] = speed {rev}/min
Theta_e[deg] = electricalAngle deg`,
  },
];

/** A second set, written after the first had been worked with. */
export const moreHeadingTables: readonly HeadingTable[] = [
  {
    habit: "drive scope export with German units row words",
    machine: "servo",
    trial: "speed",
    delimiter: ";",
    columns: `
Zeit/ms = time ms
Drehzahl-Soll/(1/min) = speedCommand {rev}/min
Drehzahl-Ist/(1/min) = speed {rev}/min
Strom-Soll/A = currentCommand A
Strom-Ist/A = current A
Rotorlage/Grad = position deg`,
  },
  {
    habit: "English abbreviations, dots",
    machine: "servo",
    trial: "position",
    delimiter: ",",
    columns: `
Time.ms = time ms
Pos.Cmd.deg = positionCommand deg
Pos.Act.deg = position deg
Vel.Act.rpm = speed {rev}/min
Cur.Act.A = current A
Pos.Err.deg = positionError -`,
  },
  {
    habit: "robot arm csv, joint prefix",
    machine: "gear",
    trial: "position",
    delimiter: ",",
    columns: `
timestamp_us = time us
j1_pos_cmd_rad = positionCommand rad
j1_pos_rad = position rad
j1_vel_rad_s = speed rad/s
j1_torque_nm = torque N.m
j1_temp_c = temperature Cel`,
  },
  {
    habit: "microcontroller print",
    machine: "gear",
    trial: "loop",
    delimiter: " ",
    columns: `
t = time ms ?
sp = speedCommand {rev}/min ?
pv = speed {rev}/min ?
op = duty % ?`,
  },
  {
    habit: "bench book of an apprentice",
    machine: "gear",
    trial: "duty",
    delimiter: ";",
    columns: `
Zeit in s = time s
Spannung Motor in V = voltage V
Strom Motor in A = current A
Drehzahl in U/min = speed {rev}/min`,
  },
  {
    habit: "power analyser beside a torque flange",
    machine: "spindle",
    trial: "ramp",
    delimiter: ";",
    columns: `
Time [s] = time s
Speed [1/min] = speed {rev}/min
Torque [Nm] = torque N.m
Udc [V] = voltageBus V
Idc [A] = currentBus A
I1rms [A] = current A
Pmech [W] = power -`,
  },
  {
    habit: "Matlab-like names",
    machine: "small",
    trial: "speed",
    delimiter: ",",
    columns: `
tout = time s ?
omega_ref_rads = speedCommand rad/s
omega_rads = speed rad/s
theta_rad = position rad
i_q_A = current A
i_d_A = currentD A
u_q_V = voltageQ V
u_d_V = voltageD V`,
  },
  {
    habit: "phase currents and encoder",
    machine: "servo",
    trial: "current",
    delimiter: ",",
    columns: `
time (ms) = time ms
i_a (A) = currentU A
i_b (A) = currentV A
i_c (A) = currentW A
encoder (cnt) = position {count}
n (rpm) = speed {rev}/min`,
  },
  {
    habit: "snake case with si suffixes",
    machine: "servo",
    trial: "speed",
    delimiter: ",",
    columns: `
time_seconds = time s
commanded_velocity_radps = speedCommand rad/s
measured_velocity_radps = speed rad/s
measured_position_rad = position rad
commanded_current_amps = currentCommand A
measured_current_amps = current A
bus_voltage_volts = voltageBus V`,
  },
  {
    habit: "Portuguese with units in brackets",
    machine: "gear",
    trial: "duty",
    delimiter: ";",
    columns: `
Tempo [ms] = time ms
Ciclo de trabalho [%] = duty %
Tensão do motor [V] = voltage V
Corrente do motor [mA] = current mA
Velocidade [rpm] = speed {rev}/min`,
  },
  {
    habit: "Hungarian and Romanian plant",
    machine: "spindle",
    trial: "speed",
    delimiter: ";",
    columns: `
Idő [s] = time s
Fordulatszám alapjel [1/min] = speedCommand {rev}/min
Fordulatszám mért [1/min] = speed {rev}/min
Motoráram [A] = current A
Nyomaték [Nm] = torque N.m`,
  },
  {
    habit: "Finnish test report",
    machine: "spindle",
    trial: "speed",
    delimiter: ";",
    columns: `
Aika (s) = time s
Nopeusohje (rpm) = speedCommand {rev}/min
Nopeus mitattu (rpm) = speed {rev}/min
Virta (A) = current A
Vääntömomentti (Nm) = torque N.m`,
  },
  {
    habit: "Ukrainian student",
    machine: "gear",
    trial: "duty",
    delimiter: ";",
    columns: `
Час, с = time s
Напруга, В = voltage V
Струм, А = current A
Швидкість, об/хв = speed {rev}/min`,
  },
  {
    habit: "capitals without separators",
    machine: "servo",
    trial: "speed",
    delimiter: ",",
    columns: `
TIMEMS = time ms
SPDREF = speedCommand {rev}/min ?
SPDACT = speed {rev}/min ?
IQREF = currentCommand A ?
IQACT = current A ?
VDC = voltageBus V ?`,
  },
  {
    habit: "two motors, numbered, units after",
    machine: "gear",
    trial: "speed",
    delimiter: ",",
    columns: `
time[s] = time s
M1 speed ref[rpm] = speedCommand {rev}/min
M1 speed[rpm] = speed {rev}/min
M1 current[A] = current A
M2 speed ref[rpm] = speedCommand {rev}/min
M2 speed[rpm] = speed {rev}/min
M2 current[A] = current A`,
  },
  {
    habit: "percent of rated",
    machine: "servo",
    trial: "speed",
    delimiter: ";",
    columns: `
Time (ms) = time ms
Speed setpoint (%) = speedCommand %
Speed actual (%) = speed %
Torque setpoint (%) = torqueCommand %
Torque actual (%) = torque %
DC-link (V) = voltageBus V`,
  },
  {
    habit: "maker space",
    machine: "gear",
    trial: "loop",
    delimiter: ",",
    columns: `
time = time ms ?
goal = speedCommand {rev}/min ?
rpm = speed {rev}/min
motor power = duty {count} ?
battery = voltageBus V ?`,
  },
  {
    habit: "thrust stand",
    machine: "small",
    trial: "duty",
    delimiter: ",",
    columns: `
Time (s) = time s
ESC signal (%) = duty %
Motor electrical speed (RPM) = zero - ? none
Motor optical speed (RPM) = speed {rev}/min
Voltage (V) = voltageBus V
Current (A) = currentBus A
Torque (N·m) = torque N.m
Vibration (g) = acceleration - other`,
  },
  {
    habit: "state observer",
    machine: "small",
    trial: "speed",
    delimiter: ",",
    columns: `
t_s = time s
w_ref = speedCommand rad/s ?
w_est = speed rad/s ?
theta_est = electricalAngle rad ?
iq_meas = current A ?
id_meas = currentD A ?
vq_out = voltageQ V ?
vd_out = voltageD V ?`,
  },
  {
    habit: "gimbal",
    machine: "small",
    trial: "position",
    delimiter: ",",
    columns: `
ms = time ms
target_deg = positionCommand deg
pitch_deg = position deg
gyro_dps = speed deg/s
motor_current_mA = current mA`,
  },
  {
    habit: "Chinese servo studio",
    machine: "servo",
    trial: "position",
    delimiter: ",",
    columns: `
时间(ms) = time ms
位置指令(°) = positionCommand deg
实际位置(°) = position deg
实际速度(rpm) = speed {rev}/min
实际转矩(%) = torque %
位置偏差(°) = positionError -`,
  },
  {
    habit: "Japanese notes",
    machine: "gear",
    trial: "duty",
    delimiter: ",",
    columns: `
時刻[s] = time s
電圧[V] = voltage V
電流[A] = current A
回転数[rpm] = speed {rev}/min`,
  },
  {
    habit: "verbose with instance paths",
    machine: "servo",
    trial: "speed",
    delimiter: ",",
    columns: `
/machine/clock [s] = time s
/machine/axis1/velocity/setpoint [rpm] = speedCommand {rev}/min
/machine/axis1/velocity/actual [rpm] = speed {rev}/min
/machine/axis1/current/actual [A] = current A
/machine/axis1/position/actual [deg] = position deg
/machine/axis1/status = status -`,
  },
];
