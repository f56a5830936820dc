using Serilog;
using Spectre.Console;
using Spectre.Console.Cli;
using Traceability.Service.Commands;

namespace Traceability.Service.Operations;

/// <summary>The verbs of the one executable. Without a verb it serves.</summary>
public static class CommandLine
{
    public static async Task<int> RunAsync(string[] args)
    {
        if (args.Length == 0 || args[0] == "serve" || IsSetting(args[0]))
        {
            try
            {
                await using var app = Host.Build(args is ["serve", ..] ? args[1..] : args);
                await Host.PrepareAsync(app);
                await app.RunAsync();
                return ExitCodes.Done;
            }
            catch (SettingException e)
            {
                // A sentence, not a trace: somebody who sets this up reads it.
                await Console.Error.WriteLineAsync(e.Message);
                return ExitCodes.Called;
            }
        }

        // A verb's answer stands alone on standard output.
        Serilog.Log.Logger = new LoggerConfiguration().MinimumLevel.Warning()
            .WriteTo.Console(new Serilog.Formatting.Compact.CompactJsonFormatter(), standardErrorFromLevel: Serilog.Events.LogEventLevel.Verbose).CreateLogger();
        return await RunAsync([.. args.Where(a => !IsSetting(a))], Terminal.Process([.. args.Where(IsSetting)]));
    }

    /// <summary>Runs one verb.</summary>
    /// <returns>The exit code, one of <see cref="ExitCodes"/>.</returns>
    public static async Task<int> RunAsync(IReadOnlyList<string> args, Terminal terminal)
    {
        try
        {
            return await Verbs(terminal).RunAsync(args);
        }
        catch (VerbException e)
        {
            await terminal.Error.WriteLineAsync(e.Message);
            return e.ExitCode;
        }
        catch (CommandAppException e)
        {
            await terminal.Error.WriteLineAsync(e.Message + " Try --help.");
            return ExitCodes.Called;
        }
        catch (SettingException e)
        {
            await terminal.Error.WriteLineAsync(e.Message);
            return ExitCodes.Called;
        }
        catch (Exception e) when (Recording.Recorder.IsAway(e))
        {
            await terminal.Error.WriteLineAsync($"The database does not answer: {e.Message}. Nothing was changed by this call, or it may be made again; doctor says more.");
            return ExitCodes.Away;
        }
    }

    // --Signer:Folder=..., --Roles=...: as serve takes them. Options of verbs are lower case.
    private static bool IsSetting(string arg) => arg.StartsWith("--", StringComparison.Ordinal) && arg.Length > 2 && (char.IsAsciiLetterUpper(arg[2]) || arg.StartsWith("--urls=", StringComparison.Ordinal));

    private static CommandApp Verbs(Terminal terminal)
    {
        var app = new CommandApp();
        app.Configure(c =>
        {
            c.SetApplicationName("plant");
            c.PropagateExceptions();
            c.ConfigureConsole(terminal.Console);
            void Add<T>(IConfigurator to, string name, string what, params string[][] examples) where T : class, ICommand
            {
                var verb = to.AddCommand<T>(name).WithDescription(what).WithData(terminal);
                foreach (var example in examples) verb.WithExample(example);
            }

            void Branch(string name, string what, Action<IConfigurator<CommandSettings>> verbs) => c.AddBranch<CommandSettings>(name, b =>
            {
                b.SetDescription(what);
                verbs(b);
            });
            void In<T>(IConfigurator<CommandSettings> to, string name, string what, params string[] example) where T : class, ICommandLimiter<CommandSettings>
            {
                var verb = to.AddCommand<T>(name).WithDescription(what).WithData(terminal);
                if (example.Length > 0) verb.WithExample(example);
            }

            Add<RecallVerb>(c, "recall", "Which units a subject reaches and where they are; what it is made from.",
                ["recall", "lot:mill-a/778812"], ["recall", "storage:silo-2", "--csv"], ["recall", "unit:RF-0101", "--json"]);
            Branch("replay", "What was known at another moment.", b =>
            {
                In<ReplayUnitVerb>(b, "unit", "A unit as known then.", "replay", "unit", "RF-0101", "--at", "2026-05-04T07:00:00-05:00");
                In<ReplayPourVerb>(b, "pour", "A pour and its units as known then.", "replay", "pour", "P-31", "--position", "1204");
                In<ReplayBoardVerb>(b, "board", "The ten questions of the board as known then.", "replay", "board", "--position", "1204");
                In<ReplayChangesVerb>(b, "changes", "Records added, findings and holds changed between two moments.", "replay", "changes", "RF-0101", "--from", "1204", "--to", "1210");
                In<ReplayDecisionVerb>(b, "decision", "The judgement kept with a decision, beside the same records under today's rules.");
            });
            Add<MigrateVerb>(c, "migrate", "Brings the database to what this version needs, by numbered scripts, each run once.", ["migrate"], ["migrate", "--dry-run"]);
            Add<RebuildVerb>(c, "rebuild", "The index of links, or every unit's row, anew from the records, while facts come in.", ["rebuild", "links"], ["rebuild", "units", "--no-wait"]);
            Branch("parked", "Facts that could not be recorded.", b =>
            {
                In<ParkedListVerb>(b, "list", "Those that wait, then those recorded last.");
                In<ParkedShowVerb>(b, "show", "One of them whole.");
                In<ParkedRedriveVerb>(b, "redrive", "Through the recorder again, once the cause is fixed.", "parked", "redrive", "ID", "--person", "p-901");
            });
            Branch("quarantined", "Facts that may not count yet.", b =>
            {
                In<QuarantinedListVerb>(b, "list", "Those that wait, then those cleared last.");
                In<QuarantinedShowVerb>(b, "show", "One of them whole.");
                In<QuarantinedClearVerb>(b, "clear", "It is recorded and counts from now on, and says who cleared it.", "quarantined", "clear", "ID", "--person", "p-901");
            });
            Add<ExportVerb>(c, "export", "Every record, exact bytes, one a line, in order of position.", ["export", "records.jsonl"]);
            Add<ImportVerb>(c, "import", "The same into an empty store; a broken-off import is simply run again.", ["import", "records.jsonl"]);
            Branch("log", "The sealed log.", b =>
            {
                In<LogStatusVerb>(b, "status", "Its name, leaves and last checkpoint.");
                In<NewOriginVerb>(b, "new-origin", "Ends a log that can no longer be continued and starts another.", "log", "new-origin", "plant.example/log-2", "--new-key", "--yes");
                In<WitnessRequestVerb>(b, "witness-request", "Writes what a witness without a connection cosigns.", "log", "witness-request", "request.txt", "--from", "20000");
                In<CosignatureVerb>(b, "cosignature", "Takes back the answer of a witness without a connection.", "log", "cosignature", "request.txt", "answer.txt");
                In<CheckCheckpointVerb>(b, "check", "Compares a checkpoint that was shown before with the log as it is.", "log", "check", "checkpoint.txt");
            });
            Branch("profile", "Rule profiles.", b => In<ProfileCheckVerb>(b, "check", "Names every mistake of profile files with line and reason.", "profile", "check", "agency.yaml"));
            Branch("people", "The register of people.", b =>
            {
                In<PeopleListVerb>(b, "list", "Who is in the register, by id.");
                In<PeopleConfirmVerb>(b, "confirm", "Confirms roles where no second person is left; leaves a record.", "people", "confirm", "p-120", "--reason", "the only quality engineer lost the PIN", "--yes");
                In<PeopleRecoverVerb>(b, "recover", "Gives a lost administrator a new first password; leaves a record.", "people", "recover", "p-901", "--reason", "left the plant", "--yes");
            });
            Branch("devices", "Stations' devices and kiosks.", b =>
            {
                In<DevicesListVerb>(b, "list", "All of them.");
                In<DeviceCodeVerb>(b, "code", "A code with which a kiosk enrolls itself.", "devices", "code", "plant-inspector", "--person", "p-901");
            });
            Add<DoctorVerb>(c, "doctor", "Examines the installation and says what to do.", ["doctor"]);
        });
        return app;
    }
}
