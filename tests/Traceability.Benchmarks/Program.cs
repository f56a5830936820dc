System.Console.WriteLine("not yet");
