using System.Globalization;
using Traceability.Core.Quantities;

namespace Traceability.Service.Packets.Pages;

/// <summary>The one place where figures become text, so that a figure is the same on every page. US units, SI beside them.</summary>
internal static class Figures
{
    public static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    public static string Day(DateOnly? day) => day is { } d ? Day(d) : "not stated";

    /// <summary>Time as the station wrote it, with its offset from UTC.</summary>
    public static string Time(DateTimeOffset at) => at.ToString("yyyy-MM-dd HH:mm zzz", CultureInfo.InvariantCulture);

    /// <summary>With seconds, for the proof.</summary>
    public static string Exact(DateTimeOffset at) => at.ToString("yyyy-MM-dd HH:mm:ss zzz", CultureInfo.InvariantCulture);

    public static string Clock(DateTimeOffset at) => at.ToString("HH:mm", CultureInfo.InvariantCulture);

    public static string Inch(Reading value) => value.Text + " in";

    public static string Millimetre(Reading value) => Round(value.Value * 25.4m, Math.Abs(value.Value) < 10 ? 1 : 0) + " mm";

    public static string Pound(Reading value) => value.Text + " lb";

    public static string Kilogram(Reading value) => Round(value.Value * 0.45359237m, Math.Abs(value.Value) < 50 ? 1 : 0) + " kg";

    public static string Pound(decimal value) => Round(value, 0) + " lb";

    public static string Kilogram(decimal value) => Round(value * 0.45359237m, 0) + " kg";

    public static string Psi(decimal value) => Plain(value) + " psi";

    public static string Megapascal(decimal psi) => Round(psi * 0.006894757m, 1) + " MPa";

    public static string Fahrenheit(decimal value) => Plain(value) + " °F";

    public static string Celsius(decimal fahrenheit) => Round((fahrenheit - 32m) * 5m / 9m, 1) + " °C";

    public static string FahrenheitPerHour(decimal value) => Plain(decimal.Round(value, 1)) + " °F/h";

    public static string CelsiusPerHour(decimal fahrenheit) => Round(fahrenheit * 5m / 9m, 1) + " °C/h";

    public static string CubicYard(Reading value) => value.Text + " yd³";

    public static string CubicMetre(Reading value) => Round(value.Value * 0.764554858m, 2) + " m³";

    public static string PoundForce(Reading value) => value.Text + " lbf";

    public static string Kilonewton(Reading value) => Round(value.Value * 0.00444822162m, 1) + " kN";

    public static string Density(Reading value) => value.Text + " lb/ft³";

    public static string DensityMetric(Reading value) => Round(value.Value * 16.018463m, 0) + " kg/m³";

    public static string Percent(Reading value) => value.Text + " %";

    public static string Percent(decimal value) => Plain(value) + " %";

    public static string YesNo(bool value) => value ? "yes" : "NO";

    /// <summary>A number as the findings write it: invariant, without trailing zeros.</summary>
    public static string Plain(decimal value) => value.ToString("0.############", CultureInfo.InvariantCulture);

    public static string Count(int value) => value.ToString(CultureInfo.InvariantCulture);

    public static string Round(decimal value, int digits) =>
        decimal.Round(value, digits, MidpointRounding.ToEven).ToString(digits == 0 ? "0" : "0." + new string('0', digits), CultureInfo.InvariantCulture);
}
