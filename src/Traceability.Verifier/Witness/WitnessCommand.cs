namespace Traceability.Verifier.Witness;

/// <summary>The verb <c>witness</c>: a second party that remembers what the log showed, so that it cannot show two histories.</summary>
public static class WitnessCommand
{
    private const string Help =
        """
        A witness of the plant's log: it checks that the log only ever grew, and cosigns it. Run it at the agency, on the agency's machine.

          traceability-verify witness new DIR --name NAME          makes a witness; prints its key line, for the plant's settings
          traceability-verify witness watch DIR KEYLINE [--url URL]
                                                                   watches a log; KEYLINE is the log's key line, obtained on another way
                                                                   than the plant's network; URL is where it is read, as in
                                                                   https://plant.example/log
          traceability-verify witness serve DIR --listen URL       waits for the plant's checkpoints (C2SP tlog-witness)
          traceability-verify witness poll DIR [--every SECONDS]   fetches checkpoints from each URL and brings the cosignatures back;
                                                                   once without --every
          traceability-verify witness cosign DIR FILE              without a connection: FILE is what the plant's 'log witness-request' wrote;
                                                                   prints the lines to take back to the plant
          traceability-verify witness show DIR                     its key line, the logs it watches and where each stands

        Exit code: 0 done; 1 a log could not be cosigned, with the reason; 2 not called as it should be.
        DIR holds the witness's key and memory: keep it, and keep it apart from the plant's machines.
        """;

    /// <summary>Runs the verb.</summary>
    /// <returns>The exit code.</returns>
    public static int Run(IReadOnlyList<string> args, TextWriter output, TextWriter error, TimeProvider clock, CancellationToken cancel)
    {
        string? name = null, url = null, listen = null, every = null;
        var words = new List<string>();
        for (var i = 0; i < args.Count; i++)
        {
            if (args[i] is "--help" or "-h")
            {
                output.WriteLine(Help);
                return Command.Ok;
            }

            if (!args[i].StartsWith("--", StringComparison.Ordinal))
            {
                words.Add(args[i]);
                continue;
            }

            if (i + 1 == args.Count)
            {
                return Wrong(error, $"{args[i]} wants a value.");
            }

            switch (args[i])
            {
                case "--name": name = args[++i]; break;
                case "--url": url = args[++i]; break;
                case "--listen": listen = args[++i]; break;
                case "--every": every = args[++i]; break;
                default: return Wrong(error, $"{args[i]} is not known.");
            }
        }

        try
        {
            switch (words)
            {
                case ["new", var dir] when name is not null:
                    if (!Cosigner.IsName(name))
                    {
                        return Wrong(error, "--name must be a name of 1 to 255 characters without white space or plus sign, such as agency.example/witness.");
                    }

                    output.WriteLine(WitnessFolder.Create(dir, name).Line);
                    return Command.Ok;
                case ["watch", var dir, var key]:
                    using (var witness = WitnessFolder.Open(dir))
                    {
                        witness.Watch(key, url);
                        return Command.Ok;
                    }

                case ["serve", var dir] when listen is not null:
                    using (var witness = WitnessFolder.Open(dir))
                    {
                        WitnessServer.RunAsync(witness, listen, clock, output, cancel).GetAwaiter().GetResult();
                        return Command.Ok;
                    }

                case ["poll", var dir]:
                    return Poll(dir, every, output, error, clock, cancel);
                case ["cosign", var dir, var file]:
                    using (var witness = WitnessFolder.Open(dir))
                    {
                        var answer = AddCheckpoint.Answer(witness, File.ReadAllText(file), clock.GetUtcNow().ToUnixTimeSeconds());
                        if (answer.Status == 200)
                        {
                            output.Write(answer.Body);
                            return Command.Ok;
                        }

                        // The request's own words stand in it: they must not reach a terminal as commands to it.
                        error.WriteLine(Report.Plain(answer.Status == 409
                            ? $"This witness knows the log at {answer.Body.TrimEnd()} records: ask the plant for a request from there (log witness-request --from {answer.Body.TrimEnd()})." : answer.Body.TrimEnd()));
                        return Command.Failed;
                    }

                case ["show", var dir]:
                    using (var witness = WitnessFolder.Open(dir))
                    {
                        output.WriteLine(witness.Public.Line);
                        foreach (var (origin, from) in witness.Logs())
                        {
                            var note = witness.Latest(origin) is { } kept ? Note.Read(kept) : null;
                            output.WriteLine(note is null ? $"{origin}: nothing cosigned yet" : $"{origin}: {note.Size} records, root {Convert.ToHexStringLower(note.Root)}{(from is null ? "" : $", read from {from}")}");
                        }

                        return Command.Ok;
                    }

                default:
                    return Wrong(error, "Say what the witness is to do.");
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or InvalidDataException or FormatException or System.Net.HttpListenerException)
        {
            return Wrong(error, e.Message);
        }
    }

    private static int Poll(string dir, string? every, TextWriter output, TextWriter error, TimeProvider clock, CancellationToken cancel)
    {
        var seconds = 0;
        if (every is not null && (!int.TryParse(every, System.Globalization.CultureInfo.InvariantCulture, out seconds) || seconds is < 1 or > 86_400))
        {
            return Wrong(error, "--every wants 1 to 86400 seconds.");
        }

        using var witness = WitnessFolder.Open(dir);
        using var http = new HttpClient { Timeout = TimeSpan.FromSeconds(30) };
        var failed = WitnessPoll.Round(witness, http, clock, output);
        while (every is not null && !cancel.WaitHandle.WaitOne(TimeSpan.FromSeconds(seconds)))
        {
            failed = WitnessPoll.Round(witness, http, clock, output);
        }

        return failed == 0 ? Command.Ok : Command.Failed;
    }

    private static int Wrong(TextWriter error, string why)
    {
        error.WriteLine(Report.Plain(why));
        error.WriteLine("traceability-verify witness --help tells how to call it.");
        return Command.Usage;
    }
}
