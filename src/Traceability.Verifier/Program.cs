using Traceability.Verifier;

return Command.Run(args, Console.Out, Console.Error);
