using System.Text.Encodings.Web;
using System.Text.Json;
using Spectre.Console;
using Traceability.Core.Events;

namespace Traceability.Service.Commands;

/// <summary>What a verb writes to and reads from, and the settings it was given.</summary>
/// <param name="Settings">Settings as serve takes them, --A:B=value; they stand above the environment.</param>
public sealed record Terminal(TextReader In, TextWriter Out, TextWriter Error, IReadOnlyList<string> Settings)
{
    private static readonly JsonSerializerOptions s_readable = new(FactJson.Options) { WriteIndented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>Tables and progress, on the same output.</summary>
    public IAnsiConsole Console { get; } = Create(Out);

    // Where nobody looks at a screen, a line is as long as it needs to be.
    private static IAnsiConsole Create(TextWriter output)
    {
        var screen = output == System.Console.Out && !System.Console.IsOutputRedirected;
        var console = AnsiConsole.Create(new AnsiConsoleSettings { Out = new AnsiConsoleOutput(output), Ansi = screen ? AnsiSupport.Detect : AnsiSupport.No });
        if (!screen) console.Profile.Width = 240;
        return console;
    }

    public static Terminal Process(IReadOnlyList<string> settings) => new(System.Console.In, System.Console.Out, System.Console.Error, settings);

    public void Json(object? value) => Out.WriteLine(JsonSerializer.Serialize(value, s_readable));

    /// <summary>A table with a line under its head, or a sentence when it has no rows.</summary>
    public void Table(IReadOnlyList<string> columns, IEnumerable<IReadOnlyList<string?>> rows, string none)
    {
        var table = new Table { Border = TableBorder.Simple };
        foreach (var column in columns) table.AddColumn(new TableColumn(Markup.Escape(column)));
        foreach (var row in rows) table.AddRow(row.Select(c => Markup.Escape(c ?? "")).ToArray());
        if (table.Rows.Count == 0) Out.WriteLine(none);
        else Console.Write(table);
    }
}

/// <summary>A mistake of the caller's or something that is not there: said in one sentence, without a stack trace.</summary>
public sealed class VerbException(int exitCode, string message) : Exception(message)
{
    public int ExitCode { get; } = exitCode;

    public static VerbException Called(string message) => new(ExitCodes.Called, message);

    public static VerbException NotThere(string message) => new(ExitCodes.Wrong, message);
}

/// <summary>Exit codes of every verb.</summary>
public static class ExitCodes
{
    /// <summary>Done, nothing wrong.</summary>
    public const int Done = 0;

    /// <summary>Something is wrong or not there; each thing is named.</summary>
    public const int Wrong = 1;

    /// <summary>Not called as it should be.</summary>
    public const int Called = 2;

    /// <summary>The database does not answer.</summary>
    public const int Away = 3;
}
